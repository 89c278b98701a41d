import {type CheckedDevice, deviceName, type Finding, STATE_MARKS, STATE_WORDS} from '../model/preflight.ts';

/** A state by its mark and its word. */
function State({state}: {readonly state: Finding['state']}) {
  return <span class={`state is-${state}`}><span aria-hidden="true">{STATE_MARKS[state]}</span> {STATE_WORDS[state]}</span>;
}

/** What one device found, thing by thing. */
export function Findings({device}: {readonly device: CheckedDevice}) {
  return (
    <dl class="findings">
      {device.findings.map(({what, state, words}) => (
        <div key={what}>
          <dt>{what}: <State state={state} /></dt>
          <dd>{words}</dd>
        </div>
      ))}
    </dl>
  );
}

/** All devices that looked at themselves, a row each. */
export function DeviceTable({devices}: {readonly devices: readonly CheckedDevice[]}) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="Devices">
      <table>
        <thead><tr><th scope="col">Device</th><th scope="col">How it is</th><th scope="col">Window</th><th scope="col">Refresh</th><th scope="col">What to do or to know</th></tr></thead>
        <tbody>
          {devices.map((device) => (
            <tr key={device.device}>
              <th scope="row">{device.pseudonym}<br /><span class="aside">{deviceName(device)}, {device.transport}</span></th>
              <td><State state={device.state} /></td>
              <td>{device.window_px.join(' × ')} at {Number(device.device_pixel_ratio.toFixed(2))}</td>
              <td>{device.refresh_hz === null ? '–' : `${device.refresh_hz.toFixed(0)} Hz`}</td>
              <td>
                {device.findings.filter(({state}) => state !== 'fine').map(({what, state, words}) => (
                  <p key={what}><State state={state} />, {what}: {words}.</p>
                ))}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
