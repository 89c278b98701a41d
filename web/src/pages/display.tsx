import {useEffect, useRef, useState} from 'preact/hooks';

import {
  afterZoom, CARD_START_PX, CHANNEL_NAMES, checkFrom, type Found, foundWords, framesWords, nothingFound, SHARE_NAMES, STATEMENT_MOST, type Step, STEP_NAMES,
  STEPS, TONE_TASKS, withMatch,
} from '../model/display-check.ts';
import type {DisplayRecord} from '../model/display-record.ts';
import type {DisplayEntry} from '../model/eye.ts';
import {frameStatistics, WATCH_MS} from '../model/frames.ts';
import {BLACK_STEPS, GREYS, greys, MORE_BLACK_STEPS, MORE_WHITE_STEPS, patches, raster, WHITE_STEPS} from '../model/patterns.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence, INTENDED_USE} from '../model/words.ts';
import {CardOutline} from '../parts/card-outline.tsx';
import {Choices} from '../parts/choices.tsx';
import {DevicePixels} from '../parts/device-pixels.tsx';
import {DisplayChoice} from '../parts/display-choice.tsx';
import {DisplayResult} from '../parts/display-result.tsx';
import {DisplayStatus} from '../parts/display-status.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {api, useWindow} from './browser.ts';
import {readSurroundings, useScreen} from './display-watch.ts';
import {PageFrame} from './frame.tsx';

/** Where a uniform field begins; on no usual screen is it the answer to any of the comparisons. */
const FIRST_CODE = 100;

/** `/display`: a check of the screen without instruments, one step after the other. */
export function DisplayPage() {
  const [at, setAt] = useState(0);
  const [found, setFound] = useState<Found>(nothingFound);
  const [zoomed, setZoomed] = useState(false);
  const [displays, setDisplays] = useState<readonly DisplayEntry[]>([]);
  const [display, setDisplay] = useState<string | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);
  const [result, setResult] = useState<DisplayRecord | null>(null);
  const heading = useRef<HTMLHeadingElement>(null);
  const screen = useScreen();
  const {pixelRatio, widthPx} = useWindow();
  const usedRatio = useRef(pixelRatio);

  const load = async () => {
    const reply = await api.displays();
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setDisplays(reply.value);
  };
  useEffect(() => void load(), []);
  // What was measured in pixels of another size no longer holds.
  useEffect(() => {
    if (usedRatio.current === pixelRatio) return;
    usedRatio.current = pixelRatio;
    if (found.cardPx === null && found.toneMatches.length === 0) return;
    setFound(afterZoom);
    setZoomed(true);
  }, [pixelRatio]);

  const step = STEPS[at]!;
  const change = (part: Partial<Found>) => setFound((before) => ({...before, ...part}));
  const goTo = (next: number) => {
    setAt(next);
    requestAnimationFrame(() => heading.current?.focus());
  };
  const chosen = display ?? screen.current?.asked.display ?? displays[0]?.name ?? null;

  const send = async () => {
    if (chosen === null) return;
    setBusy(true);
    const reply = await api.recordDisplay(checkFrom(found, chosen, readSurroundings()));
    setBusy(false);
    setTrouble(reply.ok ? null : reply.trouble);
    if (!reply.ok) return;
    screen.made(reply.value);
    setResult(reply.value);
    requestAnimationFrame(() => heading.current?.focus());
  };
  const again = () => {
    setResult(null);
    setFound(nothingFound);
    setZoomed(false);
    goTo(0);
  };

  // After zooming and the like the record kept by the watch is newer than the one the answer brought.
  const shown = result !== null && screen.current?.record === result.record ? screen.current : result;
  // A little less than the room there is: drawings move onto the grid of the display's pixels.
  const width = Math.min(640, widthPx - 84);
  return (
    <PageFrame heading="The screen in front of you" look="wide">
      <DisplayStatus screen={screen} checking />
      {trouble && <TroubleNote trouble={trouble} {...(displays.length === 0 ? {onRetry: () => void load()} : {})} />}
      {zoomed && (
        <div class="note" role="status">
          <p>The zoom changed: size and tone curve were measured in other pixels, and are back to not done. The rest still holds.</p>
        </div>
      )}
      <div class="steps">
        <ol class="step-list" aria-label="Steps">
          {STEPS.map((name, place) => (
            <li key={name}>
              <button type="button" class="step" aria-current={place === at ? 'step' : undefined} disabled={result !== null} onClick={() => goTo(place)}>
                <span class="step-name">{place + 1} {STEP_NAMES[name]}</span>
                <span class="step-found">{name === 'send' ? '' : foundWords(name, found)}</span>
              </button>
            </li>
          ))}
        </ol>
        <section class="card" aria-labelledby="step-heading">
          <h2 id="step-heading" ref={heading} tabIndex={-1}>{shown === null ? STEP_NAMES[step] : 'Result'}</h2>
          {shown !== null ? (
            <>
              {shown.ended !== null && <p class="note" role="status">This check no longer holds: {shown.ended === 'zoom' ? 'the page was zoomed' : shown.ended === 'moved' ? 'the window went to another screen' : 'something of the screen changed'}. Please check again.</p>}
              <DisplayResult record={shown} />
              <div class="buttons no-print"><button type="button" onClick={again}>Check again</button><a class="button" href="/">To the start page</a></div>
            </>
          ) : (
            <>
              <StepBody {...{step, found, change, width, pixelRatio, displays, chosen}} narrow={widthPx < 480} onDisplay={setDisplay} />
              <div class="buttons step-buttons">
                {at > 0 && <button type="button" onClick={() => goTo(at - 1)}>Back</button>}
                {step === 'send' ? (
                  <button type="button" class="primary" disabled={busy || chosen === null} onClick={() => void send()}>Record this check</button>
                ) : (
                  <button type="button" class="primary" onClick={() => goTo(at + 1)}>
                    {foundWords(step, found) === 'not done' ? 'Skip, not done' : 'Next'}
                  </button>
                )}
              </div>
            </>
          )}
        </section>
      </div>
      <CautionNote label="What this is for" lines={[asSentence(shown?.intended_use ?? INTENDED_USE)]} />
    </PageFrame>
  );
}

interface StepNeeds {
  readonly step: Step;
  readonly found: Found;
  readonly change: (part: Partial<Found>) => void;
  /** Room for a drawing, CSS px. */
  readonly width: number;
  readonly narrow: boolean;
  readonly pixelRatio: number;
  readonly displays: readonly DisplayEntry[];
  readonly chosen: string | null;
  readonly onDisplay: (name: string) => void;
}

function StepBody(needs: StepNeeds) {
  const {step, found, change, width, narrow, pixelRatio} = needs;
  switch (step) {
    case 'size':
      return (
        <>
          <p class="prose">
            Hold a card of the common format (85.60 × 53.98 mm, ISO/IEC 7810 ID-1: most bank and library cards) flat against the screen. Drag the
            outline, or use the arrow keys, until it is as large as the card. Leave the page’s zoom as it will be used.
          </p>
          <CardOutline cardPx={found.cardPx ?? CARD_START_PX} upright={narrow} roomPx={width} onSize={(cardPx) => change({cardPx})} />
          <div class="buttons">
            {found.cardPx === null
              ? <button type="button" onClick={() => change({cardPx: CARD_START_PX})}>It fits as it is</button>
              : <button type="button" onClick={() => change({cardPx: null})}>Take back</button>}
          </div>
        </>
      );
    case 'tone':
      return <ToneStep found={found} change={change} width={width} pixelRatio={pixelRatio} />;
    case 'black':
      return (
        <>
          <p class="prose">The field is black, with patches that grow a little lighter from left to right. In the light of the practical: which is the first you see?</p>
          <StepPatches
            ground={0} codes={BLACK_STEPS} more={MORE_BLACK_STEPS} chosen={found.blackStep} name="black" question="The first patch seen on black" {...{width, pixelRatio}}
            onChoose={(blackStep) => change({blackStep})}
          />
        </>
      );
    case 'white':
      return (
        <>
          <p class="prose">The field is white, with patches that grow a little darker from left to right. Which is the first you see?</p>
          <StepPatches
            ground={255} codes={WHITE_STEPS} more={MORE_WHITE_STEPS} chosen={found.whiteStep} name="white" question="The first patch seen on white" {...{width, pixelRatio}}
            onChoose={(whiteStep) => change({whiteStep})}
          />
        </>
      );
    case 'neutral':
      return (
        <>
          <p class="prose">These fields are meant to be grey, all of one tint from dark to light. Are they, or does any of them look tinted beside the others?</p>
          <DevicePixels
            widthPx={width} heightPx={160} pixelRatio={pixelRatio} drawn="greys" label={`${GREYS.length} grey fields from dark to light`}
            draw={(widthPx, heightPx) => greys(widthPx, heightPx, GREYS)}
          />
          <Choices
            name="neutral" question="The greys look" chosen={found.neutral} onChoose={(neutral) => change({neutral})}
            options={[{value: 'neutral', words: 'neutral, all alike'}, {value: 'tinted', words: 'tinted, one or more of them'}]}
          />
        </>
      );
    case 'room':
      return <RoomStep found={found} change={change} />;
    case 'refresh':
      return <RefreshStep found={found} change={change} />;
    case 'send':
      return <SendStep {...needs} />;
  }
}

/** Nine comparisons of a uniform field with lines that are full on and off. */
function ToneStep({found, change, width, pixelRatio}: Pick<StepNeeds, 'found' | 'change' | 'width' | 'pixelRatio'>) {
  const firstOpen = TONE_TASKS.findIndex(({channel, share}) => !found.toneMatches.some((match) => match.channel === channel && match.share === share));
  const [at, setAt] = useState(Math.max(0, firstOpen));
  const [code, setCode] = useState(FIRST_CODE);
  const task = TONE_TASKS[at];
  const next = () => {
    setAt(at + 1);
    setCode(FIRST_CODE);
  };
  if (task === undefined) {
    return (
      <>
        <p>{found.toneMatches.length === 0 ? 'Nothing was compared.' : 'Compared, with the code at which both looked alike:'}</p>
        <ul class="plain-list">
          {found.toneMatches.map(({channel, share, code: matched}) => <li key={`${channel}${share}`}>{CHANNEL_NAMES[channel]}, {SHARE_NAMES[share]}: {matched}</li>)}
        </ul>
        <div class="buttons">
          <button type="button" onClick={() => { change({toneMatches: []}); setAt(0); setCode(FIRST_CODE); }}>Compare again</button>
        </div>
      </>
    );
  }
  const {channel, share} = task;
  return (
    <>
      <p class="prose">
        Step back, or squint, until the lines around the field melt into one. Then move the field’s code until field and surround are equally bright.
        Comparison {at + 1} of {TONE_TASKS.length}: <strong>{CHANNEL_NAMES[channel]}, {SHARE_NAMES[share]}</strong>.
      </p>
      <DevicePixels
        widthPx={width} heightPx={220} pixelRatio={pixelRatio} drawn={`${channel} ${share} ${code}`}
        label={`Lines of full ${CHANNEL_NAMES[channel]}, ${SHARE_NAMES[share]}, around a uniform field of code ${code}`}
        draw={(widthPx, heightPx) => raster(widthPx, heightPx, channel, share, code)}
      />
      <div class="code-slider">
        <label for="code">Code of the field</label>
        <input id="code" type="range" min={0} max={255} step={1} value={code} onInput={(event) => setCode(Number(event.currentTarget.value))} />
        <output for="code">{code}</output>
      </div>
      <div class="buttons">
        <button
          type="button"
          onClick={() => {
            change({toneMatches: withMatch(found, {channel, share, code}).toneMatches});
            next();
          }}
        >
          They look alike
        </button>
        <button type="button" onClick={next}>Skip this one</button>
      </div>
    </>
  );
}

/** A row of patches with a choice under each; more of them when none is seen. */
function StepPatches({ground, codes, more, chosen, name, question, width, pixelRatio, onChoose}: {
  readonly ground: number;
  readonly codes: readonly number[];
  readonly more: readonly number[];
  readonly chosen: number | null;
  readonly name: string;
  readonly question: string;
  readonly width: number;
  readonly pixelRatio: number;
  readonly onChoose: (code: number | null) => void;
}) {
  const [none, setNone] = useState(chosen !== null && more.includes(chosen));
  const row = (shown: readonly number[]) => (
    <div class="patch-row" style={{width: `${width}px`}}>
      <DevicePixels
        widthPx={width} heightPx={110} pixelRatio={pixelRatio} drawn={`${ground} ${shown.join()}`} label={`Patches of codes ${shown.join(', ')} on ${ground}`}
        draw={(widthPx, heightPx) => patches(widthPx, heightPx, ground, shown)}
      />
      <div class="patch-labels" style={{gridTemplateColumns: `repeat(${shown.length}, 1fr)`}}>
        {shown.map((code) => (
          <label key={code}>
            <input type="radio" name={name} checked={chosen === code} onChange={() => onChoose(code)} />
            <span>{code}</span>
          </label>
        ))}
      </div>
    </div>
  );
  return (
    <fieldset class="choices">
      <legend>{question}</legend>
      {row(codes)}
      <label class="choice">
        <input
          type="radio" name={name} checked={none && (chosen === null || more.includes(chosen))}
          onChange={() => {
            setNone(true);
            onChoose(null);
          }}
        />
        <span>none of these</span>
      </label>
      {none && (
        <>
          <p>Then of these?</p>
          {row(more)}
          <p class="aside">If none of these either is seen, this step stays not done. Change the screen’s brightness or contrast, or the light in the room, and look again.</p>
        </>
      )}
    </fieldset>
  );
}

function RoomStep({found, change}: Pick<StepNeeds, 'found' | 'change'>) {
  return (
    <>
      <label class="choice">
        <input type="checkbox" checked={found.nightModeOff} onChange={(event) => change({nightModeOff: event.currentTarget.checked})} />
        <span>Night mode, and any automatic adaption of colour or brightness to the room, are off.</span>
      </label>
      <label class="choice">
        <input type="checkbox" checked={found.adapted} onChange={(event) => change({adapted: event.currentTarget.checked})} />
        <span>Everybody’s eyes have had some minutes to get used to this room’s light.</span>
      </label>
      <Choices
        name="light" question="Light in the room" chosen={found.roomLight} onChoose={(roomLight) => change({roomLight})}
        options={[{value: 'dim', words: 'dim'}, {value: 'office', words: 'as in an office'}, {value: 'bright', words: 'bright, daylight'}]}
      />
      <div class="field statement">
        <label for="statement">What whoever leads the practical says of this screen <span class="aside">(may stay empty)</span></label>
        <textarea id="statement" maxLength={STATEMENT_MOST} rows={3} value={found.statement} onInput={(event) => change({statement: event.currentTarget.value})} />
        <p class="aside">Up to {STATEMENT_MOST} characters; kept with the record. No names, please.</p>
      </div>
    </>
  );
}

function RefreshStep({found, change}: Pick<StepNeeds, 'found' | 'change'>) {
  const [measuring, setMeasuring] = useState(false);
  const [few, setFew] = useState(false);
  useEffect(() => {
    if (!measuring) return;
    const times: number[] = [];
    let handle = requestAnimationFrame(function onFrame(nowMs) {
      times.push(nowMs);
      if (nowMs - times[0]! < WATCH_MS) handle = requestAnimationFrame(onFrame);
      else {
        const frames = frameStatistics(times);
        setMeasuring(false);
        setFew(frames === null);
        change({frames});
      }
    });
    return () => cancelAnimationFrame(handle);
  }, [measuring]);
  return (
    <>
      <p class="prose">For two seconds the page counts the frames the screen shows. Leave mouse and keyboard alone meanwhile.</p>
      <div class="buttons"><button type="button" disabled={measuring} onClick={() => setMeasuring(true)}>{measuring ? 'Counting…' : 'Count for two seconds'}</button></div>
      <p role="status">{found.frames !== null ? asSentence(framesWords(found.frames)) : few ? 'Too few frames came to say anything; try again with the window in front.' : ''}</p>
    </>
  );
}

/** Everything found, once more, before it is recorded. */
function SendStep({found, displays, chosen, onDisplay}: StepNeeds) {
  return (
    <>
      <table class="summary">
        <caption>What will be recorded</caption>
        <tbody>
          {STEPS.filter((step) => step !== 'send').map((step) => (
            <tr key={step}><th scope="row">{STEP_NAMES[step]}</th><td>{foundWords(step, found)}</td></tr>
          ))}
          {found.statement.trim() !== '' && <tr><th scope="row">Statement</th><td>{found.statement.trim()}</td></tr>}
        </tbody>
      </table>
      {chosen !== null && (
        <>
          <p class="display-question">Which kind of screen is it taken for? Its primaries cannot be found by eye.</p>
          <DisplayChoice displays={displays} chosen={chosen} words={displays.find(({name}) => name === chosen)?.words ?? ''} onChoose={onDisplay} />
        </>
      )}
    </>
  );
}
