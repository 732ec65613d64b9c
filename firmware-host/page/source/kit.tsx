// kit.tsx: every instrument in its sentence, guided checks of them, and what this phone does.
import {useEffect, useRef, useState} from "preact/hooks";

import {canVibrate, setLight, setSound, setVibration, useComfort, type Light} from "./comfort";
import type {Guide, Job, KitInstrument, Live, LiveInstrument} from "./messages";
import {isReading} from "./next";
import {stateShape} from "./now";
import {Button, Form, Keys, List, Section, Sheet, State, type Shape} from "./parts";
import {Sides} from "./sketch";
import {ask, blocked, seenNow, useShown} from "./store";
import {texts} from "./texts";

const say = texts.kit;

function Check({guide}: {guide: Guide}) {
  const top = useRef<HTMLDivElement>(null);
  useEffect(() => top.current?.parentElement?.scrollIntoView({block: "start"}), [guide.step, guide.in_doubt]);
  const doing = useShown(from => from.topics.work?.doing ?? ""), waits = useShown(from => from.topics.work?.waits_for ?? "");
  return <Section name={say.check(guide.what, guide.instrument)} class="check">
    <div ref={top} />
    {guide.in_doubt
      ? <p class="trouble"><State shape="look"><b>{say.doubt}</b> {say.doubtMore}</State></p>
      : <>
        <p class="label">{say.step(guide.step, guide.steps)}</p>
        <progress max={guide.steps} value={guide.step - 1} aria-label={say.step(guide.step, guide.steps)} />
        <p class="instruction" role="status">{guide.instruction}</p>
      </>}
    {!guide.in_doubt && guide.what !== "zero" && <Sides />}
    {!guide.in_doubt && <Channels name={guide.instrument} />}
    {guide.found.length > 0 && <><h3>{say.found}</h3><List items={guide.found} /></>}
    {doing === "next" && <p><State shape="still">{waits ? texts.next.waitsFor(waits) : say.nextWaits}</State></p>}
    <div class="choice">
      {guide.in_doubt ? <Button class="main" command="keep">{say.keep}</Button>
                      : <Button class="main" command="next">{say.next}</Button>}
      <Button command="give up">{say.giveUp}</Button>
    </div>
  </Section>;
}

function DatumSheet({job, name, close}: {job: Job; name: string; close: () => void}) {
  const last = job.stations.length - 1;
  const [near, setNear] = useState(Math.min(1, last)), [far, setFar] = useState(Math.max(0, last - 1));
  const pick = (label: string, value: number, set: (value: number) => void) =>
    <label>{label}<select value={value} onChange={event => set(Number(event.currentTarget.value))}>
      {job.stations.map((each, i) => <option key={i} value={i}>{each.at}</option>)}</select></label>;
  const a = job.stations[Math.min(near, far)]?.at ?? "", b = job.stations[Math.max(near, far)]?.at ?? "";
  return <Sheet name={say.checkDatum(name)} held close={close}>
    <p>{say.datumPlaces}</p>
    {pick(say.near, near, setNear)}{pick(say.far, far, setFar)}
    <div class="choice">
      <Button class="main" command={`check datum ${a} to ${b} with ${name}`} onClick={close}>{say.begin}</Button>
      <button type="button" onClick={close}>{texts.cancel}</button>
    </div>
  </Sheet>;
}

/// A length that is known, typed by hand; the daemon refuses one that is none.
function ScaleSheet({kit, places, close}: {kit: KitInstrument; places: boolean; close: () => void}) {
  const [length, setLength] = useState(""), [across, setAcross] = useState(""), off = useShown(blocked), [opened] = useState(seenNow);
  const asksAcross = !places && kit.has_roll, complete = length.trim() && (!asksAcross || across.trim());
  const what = places ? `places ${length.trim()} apart` : length.trim() + (asksAcross ? ` across ${across.trim()}` : "");
  return <Sheet name={say.checkScale(kit.name)} held close={close}>
    <Form off={off || (complete ? "" : say.lengthMissing)} send={() => {
      void ask(`check scale ${what} with ${kit.name}`, opened);
      close();
    }}>
      <p>{places ? say.scalePlaces : say.scalePiece}</p>
      <label>{places ? say.apart : say.piece}<input value={length} required maxLength={20} onInput={event => setLength(event.currentTarget.value)} /></label>
      {asksAcross && <label>{say.feetAcross}<input value={across} required maxLength={20} onInput={event => setAcross(event.currentTarget.value)} /></label>}
      <div class="choice">
        <button class="main" aria-disabled={off ? "true" : undefined}>{say.begin}</button>
        <button type="button" onClick={close}>{texts.cancel}</button>
      </div>
    </Form>
  </Sheet>;
}

/// By itself, since it changes many times a second.
function Channels({name}: {name: string}) {
  const live = useShown(from => from.topics.live?.instruments.find(each => each.name === name));
  if (!live) return null;
  return <ul class="channels" aria-label={say.channels}>{live.channels.map((channel, i) => <li key={i}>
    <span>{texts.gives[channel.gives] ?? channel.gives}</span>
    <b>{channel.reads || `${channel.number || texts.now.nothing} ${channel.unit}`}</b>
    {isReading(channel) && <State shape={stateShape(channel, live)}>{texts.word(channel.verdict)}</State>}
  </li>)}</ul>;
}

const stateShapeOf = (live: LiveInstrument | undefined): Shape => live?.speaks ? (live.state === "well" ? "good" : "look") : "bad";

function Instrument({kit, job}: {kit: KitInstrument; job: Job}) {
  const [datum, setDatum] = useState(false), [scale, setScale] = useState<"" | "piece" | "places">("");
  const mine = (live: Live | undefined) => live?.instruments.find(each => each.name === kit.name);
  const shape = useShown(from => stateShapeOf(mine(from.topics.live)));
  const words = useShown(({topics: {live}}) => { const own = mine(live); return own ? `${texts.word(own.state)}: ${own.says}` : ""; });
  const checking = useShown(from => (from.topics.kit?.check ? texts.now.takeCheck : ""));
  return <article>
    <h3>{kit.name}</h3>
    {words && <p><State shape={shape}>{words}</State></p>}
    <Channels name={kit.name} />
    <p>{kit.calibration}</p>
    {kit.checks.length ? <List items={kit.checks} kind="plain-list" /> : (kit.can_zero || kit.can_datum) && <p class="soft">{say.noChecks}</p>}
    <p class="soft">{say.gives(kit.gives.split(", ").map(texts.word).join(", "))}; {say.port(kit.port)}</p>
    {kit.can_zero && <Button class="wide" off={checking} command={`check zero ${kit.name}`}>{say.checkZero(kit.name)}</Button>}
    {kit.can_datum && <Button class="wide" off={checking} onClick={() => setDatum(true)}>{say.checkDatum(kit.name)}</Button>}
    {kit.can_scale_piece && <Button class="wide" off={checking} onClick={() => setScale("piece")}>{say.checkScale(kit.name)}</Button>}
    {kit.can_scale_places && <Button class="wide" off={checking} onClick={() => setScale("places")}>{say.checkScale(kit.name)}</Button>}
    {scale && <ScaleSheet kit={kit} places={scale === "places"} close={() => setScale("")} />}
    {datum && <DatumSheet job={job} name={kit.name} close={() => setDatum(false)} />}
  </article>;
}

function Phone() {
  const comfort = useComfort();
  return <Section name={say.phone} class="phone">
    <label class="switch"><input type="checkbox" checked={comfort.sound} aria-describedby="sound-hint" onChange={event => setSound(event.currentTarget.checked)} />{say.sound}</label>
    <p class="soft" id="sound-hint">{say.soundHint}</p>
    <label class="switch"><input type="checkbox" checked={comfort.vibration} disabled={!canVibrate} onChange={event => setVibration(event.currentTarget.checked)} />
      {canVibrate ? say.vibration : say.noVibration}</label>
    <Keys<Light> name={say.light} value={comfort.light} choose={setLight}
      keys={[["auto", say.lights.auto], ["sun", say.lights.sun], ["dark", say.lights.dark]]} />
    <p class="label">{say.awake}</p>
    <p>{say.awakeStates[comfort.awake]}</p>
  </Section>;
}

export function KitView() {
  const kit = useShown(from => from.topics.kit), job = useShown(from => from.topics.job);
  return <div class="kit">
    <h1 tabIndex={-1}>{texts.views.kit}</h1>
    {kit?.check && <Check guide={kit.check} />}
    {kit && kit.last_check.length > 0 && <Section name={say.last}><List items={kit.last_check} /></Section>}
    {kit && kit.warnings.length > 0 && <Section name={say.warnings}><ul class="warnings">
      {kit.warnings.map((each, i) => <li key={i}><State shape="look">{each}</State></li>)}</ul></Section>}
    <Section name={say.instruments}>
      {kit && job && kit.instruments.length ? <div class="articles">{kit.instruments.map(each => <Instrument key={each.name} kit={each} job={job} />)}</div>
                                            : <p>{say.noInstruments}</p>}
    </Section>
    <Phone />
  </div>;
}
