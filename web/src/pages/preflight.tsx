import {useEffect, useState} from 'preact/hooks';

import {frameStatistics, WATCH_MS} from '../model/frames.ts';
import {type About, codeIn} from '../model/join.ts';
import {type CheckedDevice, checkedDevice, CODES_PX, codesToDraw, compareCodes, type CodesRead, deviceList, type DeviceLook} from '../model/preflight.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence, countText} from '../model/words.ts';
import {DeviceTable, Findings} from '../parts/device-findings.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {CodeForm} from '../parts/code-form.tsx';
import {api, keep} from './browser.ts';
import {readSurroundings} from './display-watch.ts';
import {PageFrame} from './frame.tsx';
import {useEvery} from './use-every.ts';

const ASK_AGAIN_MS = 2000;

/** `/preflight`: a device looks at itself; whoever runs the class sees what all of them found. */
export function PreflightPage() {
  const [about, setAbout] = useState<About | null>(null);
  const [own, setOwn] = useState<CheckedDevice | null>(null);
  const [looking, setLooking] = useState(false);
  const [trouble, setTrouble] = useState<Trouble | null>(null);

  async function look(): Promise<void> {
    setLooking(true);
    const found = await lookAtDevice();
    const reply = await api.change('POST', '/api/preflight', found, checkedDevice);
    setLooking(false);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setOwn(reply.value);
  }
  async function load(): Promise<void> {
    const reply = await api.about();
    setTrouble(reply.ok ? null : reply.trouble);
    if (!reply.ok) return;
    setAbout(reply.value);
    if (reply.value.role !== 'anyone') await look();
  }
  async function join(code: string): Promise<void> {
    setLooking(true);
    const reply = await api.join(code);
    setLooking(false);
    if (!reply.ok) return setTrouble(reply.trouble);
    history.replaceState(null, '', '/preflight');
    await load();
  }
  useEffect(() => {
    const scanned = codeIn(location.hash);
    void load().then(() => { if (scanned !== '') void join(scanned); });
  }, []);

  return (
    <PageFrame heading="Is this device ready?" title="Devices" look="wide">
      {trouble !== null && <TroubleNote trouble={trouble} {...(about?.role === 'anyone' ? {} : {onRetry: () => void load()})} />}
      {about?.role === 'anyone' && <CodeForm busy={looking} locked={about.joining !== 'open'} onJoin={(code) => void join(code)} />}
      {about !== null && about.role !== 'anyone' && (
        <section aria-labelledby="own" class="card">
          <h2 id="own" class="first">{own === null ? 'This device' : `This device: “${own.pseudonym}”`}</h2>
          <p role="status">
            {looking ? 'Looking for two seconds …' : own === null ? '' : own.state === 'fine' ? 'Ready: nothing to do.'
              : own.state === 'note' ? 'It will do. What is to be known of it stands below.' : 'Something should be mended first.'}
          </p>
          {own !== null && <Findings device={own} />}
          <p><button type="button" disabled={looking} onClick={() => void look()}>Look again</button></p>
          <p class="aside">Nothing of it is stored; it is forgotten when the program ends. The two words are for the list of whoever runs the class.</p>
        </section>
      )}
      {about?.role === 'instructor' && <Devices />}
      {about !== null && <CautionNote label="What this is for" lines={[asSentence(about.intended_use)]} />}
    </PageFrame>
  );
}

/** For whoever runs the class: every device that looked. */
function Devices() {
  const {value: all} = useEvery(ASK_AGAIN_MS, () => api.get('/api/preflight-devices', deviceList));
  if (all === null) return null;
  const others = all.devices.filter(({device}) => device !== 0);
  return (
    <section aria-labelledby="devices">
      <h2 id="devices">Devices of the room</h2>
      <p>{countText(others.length, 'device has', 'devices have')} looked at {others.length === 1 ? 'itself' : 'themselves'}; {countText(all.joined, 'device has', 'devices have')} joined.</p>
      {others.length === 0 && (
        <p class="prose">
          If a device does not get as far as this page: is it in the same network? A network for guests often keeps devices from each other
          (client isolation), and this computer’s firewall may keep the port shut. <code>copunctal preflight --lan</code> tries it without a practical.
        </p>
      )}
      {all.devices.length > 0 && <DeviceTable devices={all.devices} />}
    </section>
  );
}

async function lookAtDevice(): Promise<DeviceLook> {
  const frames = frameStatistics(await frameTimes());
  const {device_pixel_ratio: ratio, colour_depth: depth, gamut} = readSurroundings();
  return {
    secure_context: window.isSecureContext, window_px: [Math.round(window.innerWidth), Math.round(window.innerHeight)], device_pixel_ratio: ratio,
    pinch_zoom: window.visualViewport?.scale ?? 1, refresh_hz: frames?.refreshHz ?? null, frame_spread_ms: frames?.spreadMs ?? null,
    dropped_frames: frames?.dropped ?? null, colour_depth: depth, gamut, codes: codesReadBack(), storage: keep.durable(), clock_ms: Date.now(),
  };
}

/** Times of the frames of two seconds; a page that is not in front gets none, and does not wait for them. */
function frameTimes(): Promise<readonly number[]> {
  return new Promise((done) => {
    const times: number[] = [];
    const limit = setTimeout(() => done(times), 2 * WATCH_MS);
    const next = (nowMs: number) => {
      times.push(nowMs);
      if (nowMs - times[0]! < WATCH_MS) return void requestAnimationFrame(next);
      clearTimeout(limit);
      done(times);
    };
    requestAnimationFrame(next);
  });
}

function codesReadBack(): CodesRead | null {
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = CODES_PX;
  const context = canvas.getContext('2d', {colorSpace: 'srgb', alpha: false, willReadFrequently: true});
  if (context === null) return null;
  const drawn = codesToDraw();
  context.putImageData(new ImageData(drawn, CODES_PX, CODES_PX, {colorSpace: 'srgb'}), 0, 0);
  return compareCodes(drawn, context.getImageData(0, 0, CODES_PX, CODES_PX, {colorSpace: 'srgb'}).data);
}
