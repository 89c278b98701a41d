import {useEffect, useState} from 'preact/hooks';

import {type PolicyReports, policyReports, policyWords} from '../model/policy.ts';
import {api} from './browser.ts';

/** What browsers reported of the content security policy; nothing while there is nothing. */
export function PolicyNote() {
  const [found, setFound] = useState<PolicyReports | null>(null);
  useEffect(() => {
    void api.get('/api/csp-reports', policyReports).then((reply) => { if (reply.ok) setFound(reply.value); });
  }, []);
  if (found === null || found.reports === 0) return null;
  return (
    <div class="note" role="status">
      <p><strong>{policyWords(found)}</strong></p>
      <p>Our own pages never do what is forbidden here. An extension of a browser is the usual cause; otherwise somebody tried to put something into a page.</p>
    </div>
  );
}
