// now.tsx: where the reading is done: what to do next, the level drawing and its numbers, the station, one large button.
import {useState} from "preact/hooks";

import {comfort, setPersons, tellSettled, useComfort} from "./comfort";
import {LevelDrawing} from "./level";
import type {Live, LiveChannel, LiveInstrument, Topics} from "./messages";
import {bestWords, isRead, isReading, isSettled, nextStep, placeWords, readAt, readWords, staying, walking, walks, type Step} from "./next";
import {Announced, Button, Form, Keys, Mark, Section, Sheet, State, type Shape} from "./parts";
import {withSeen} from "./sides";
import {Sides} from "./sketch";
import {ask, askAll, blocked, useChange, useShown} from "./store";
import {texts} from "./texts";
import {TrendLine} from "./trend";
import {WatchPanel} from "./watch";

export function stateShape(channel: LiveChannel, instrument: LiveInstrument): Shape {
  if (!instrument.speaks || channel.value === null) return "bad";
  if (channel.settled) return "good";
  return instrument.state === "well" ? "moving" : "look";
}

// ---- what to do next ------------------------------------------------------------------------------------------------

/// As one text, so that it is drawn only when it is another.
const stepText = (topics: Topics) => JSON.stringify(nextStep(topics));

export function Instruction() {
  const lost = useShown(from => from.link === "lost");
  const known = JSON.parse(useShown(from => stepText(from.topics))) as Step;
  const ended = useShown(from => from.ended);
  const step: Step = !lost ? known
      : {mark: "stop", words: ended ? texts.next.ended : texts.next.lost, more: ended ? texts.next.endedMore : texts.next.lostMore};
  const notice = useShown(from => from.topics.work?.notice ?? "");
  const without = useShown(from => walking(from.topics.live?.instruments ?? []).filter(each => !each.speaks).map(each => each.name).join(texts.and));
  useChange(from => from.link === "connected" && isSettled(from.topics.live?.instruments ?? [], from.topics.work?.mark),
            settled => settled && tellSettled());
  return <Section name={texts.now.next} quiet class={`next next-${step.mark}`}>
    <div class="next-words"><Mark shape={step.mark} /><p>{step.words}</p></div>
    {step.more && <p class="next-more">{step.more}</p>}
    {step.command && <Button class="go" command={step.command}>{step.label}</Button>}
    {step.view && <a class="go" href={`#${step.view}`}>{step.label}</a>}
    {notice && !lost && <p class="trouble"><State shape="look">{notice}</State></p>}
    {without && step.mark !== "stop" && <p class="trouble"><State shape="look">{texts.next.goesWithout(without)}</State></p>}
    {!lost && <Announced words={step.mark === "take" ? `${texts.now.isSettled} ${step.words}` : step.words} />}
  </Section>;
}

// ---- level ----------------------------------------------------------------------------------------------------------

function Level() {
  useComfort();
  const live = useShown(from => from.topics.live), work = useShown(from => from.topics.work);
  const job = useShown(from => from.topics.job);
  if (!live || !work || !job) return null;
  const shown = walking(live.instruments);
  const first = (gives: string) => {
    for (const each of shown)
      for (const channel of each.channels) if (walks(channel) && channel.gives === gives && channel.value !== null) return channel.value;
    return null;
  };
  const station = job.stations.find(each => each.number === work.station);
  return <Section name={texts.now.level} quiet class="level-part">
    {work.has_slope && <LevelDrawing job={job} supports={work.supports} slope={first("slope")} roll={first("roll")}
      at_m={station?.at_m ?? null} />}
    {shown.map(each => <div class={each.speaks && shown.length < 3 ? "instrument" : "instrument named"} key={each.name}>
      <h3>{each.name}</h3>
      {each.state !== "well" && <p class="trouble"><State shape={each.speaks ? "look" : "bad"}>{texts.word(each.state)}: {each.says}</State></p>}
      {each.channels.filter(walks).map(channel =>
        <Number key={channel.gives} channel={channel} instrument={each} known={!uncorrected(each)} face={work.face} far={job.stations[job.stations.length - 1]?.at ?? ""}
          near={job.stations[0]?.at ?? ""} />)}
      {uncorrected(each) && <p class="trouble"><State shape="look">{texts.now.uncorrected}</State></p>}
    </div>)}
  </Section>;
}

const turns = (channel: LiveChannel) => channel.gives === "slope" || channel.gives === "roll";

function direction(channel: LiveChannel, near: string, far: string): string {
  if (channel.value === null || !turns(channel)) return "";
  if (channel.leans === 0) return channel.corrected ? texts.now.isLevel : "";
  if (channel.gives === "roll") return withSeen(channel.leans > 0 ? texts.now.leftHigh : texts.now.rightHigh, 0, channel.leans);
  return withSeen(texts.now.highAt(channel.leans > 0 ? far : near), channel.leans, 0);
}

/// Of nothing that it gives is its own error known.
function uncorrected(instrument: LiveInstrument): boolean {
  const turning = instrument.channels.filter(channel => walks(channel) && turns(channel) && channel.value !== null && channel.sigma);
  return turning.length > 0 && turning.every(channel => !channel.corrected);
}

/// How well the value is known: its sigma, or that the instrument's own error may be in it.
function Known({channel}: {channel: LiveChannel}) {
  if (channel.value === null || !channel.sigma) return null;
  return channel.corrected ? <p class="soft">{texts.now.within(channel.sigma)}</p>
      : <p class="trouble"><State shape="look">{walks(channel) ? texts.now.uncorrected : texts.now.uncorrectedStays}</State></p>;
}

/// `known`: how well this channel is known is told here, not of the instrument as a whole.
function Number({channel, instrument, known, face, near, far}:
    {channel: LiveChannel; instrument: LiveInstrument; known: boolean; face: number; near: string; far: string}) {
  return <div class="reading">
    <p class="value"><span class="number">{channel.number || texts.now.nothing}</span>{turns(channel) && <> <span class="facing">{texts.face(face)}</span></>}</p>
    <div class="about">
      <p><b>{texts.gives[channel.gives] ?? channel.gives}</b>, <span class="unit">{channel.unit}</span></p>
      <p><State shape={stateShape(channel, instrument)}>{texts.word(channel.verdict)}</State></p>
      <p class="soft">{direction(channel, near, far)}</p>
      {known && <Known channel={channel} />}
    </div>
  </div>;
}

function Staying() {
  const live = useShown(from => from.topics.live), job = useShown(from => from.topics.job);
  const alone = useShown(from => !from.topics.work?.has_slope && !from.topics.work?.has_distance), justTaken = useShown(from => from.justTaken);
  const stay = (live?.instruments ?? []).filter(each => each.channels.some(channel => isReading(channel) && !walks(channel)));
  if (stay.length === 0 || !job) return null;
  return <Section name={texts.now.staying} class="staying">
    <div class="stays">{stay.map(each => {
      const at = job.stations.find(station => Math.abs(station.at_m - (each.channels.find(channel => channel.stays_at_m !== null)?.stays_at_m ?? -1)) < 1e-6);
      return <div class="instrument" key={each.name}>
        <h3>{each.name}{at && <small> {texts.now.staysAt(at.at)}</small>}</h3>
        {each.state !== "well" && <p class="trouble"><State shape={each.speaks ? "look" : "bad"}>{texts.word(each.state)}: {each.says}</State></p>}
        {each.channels.filter(channel => isReading(channel) && !walks(channel)).map(channel => <div class="small-reading" key={channel.gives}>
          <p><span class="label">{texts.gives[channel.gives] ?? channel.gives}</span>{" "}
            <span class="number">{channel.number || texts.now.nothing}</span> <span class="unit">{channel.unit}</span></p>
          <TrendLine instrument={each.name} channel={channel} />
          <p><State shape={stateShape(channel, each)}>{channel.settled || !each.speaks || channel.value === null ? texts.word(channel.verdict) : texts.now.unrest}</State></p>
          {channel.value !== null && channel.sigma && <p class="soft">{channel.corrected ? texts.now.within(channel.sigma) : texts.now.uncorrectedStays}</p>}
        </div>)}
      </div>;
    })}</div>
    <p class="soft">{texts.now.lastMinute}</p>
    {!alone && <Button class="wide" command="take fixed" off={justTaken ? texts.now.justTaken : ""}>{texts.now.takeFixed}</Button>}
  </Section>;
}

// ---- station --------------------------------------------------------------------------------------------------------

/// Where the reading is taken, and which way round: beside the button that takes it.
function Place() {
  const work = useShown(from => from.topics.work), job = useShown(from => from.topics.job);
  const [open, setOpen] = useState(false);
  if (!work || !job) return null;
  const number = work.station ?? 0, last = job.stations.length;
  const to = (station: number) => station >= 1 && station <= last ? {command: `station ${station}`} : {off: texts.now.none};
  return <div class="place">
    <div class="picker" role="group" aria-label={texts.now.station}>
      <Button aria-label={texts.now.previous} {...to(number - 1)}><Arrow way={-1} /></Button>
      <Button class="at" onClick={() => setOpen(true)}>
        <b>{work.at || texts.now.nothing}</b> <span>{number ? texts.now.ofAll(number, last) : work.mark ? texts.now.distanceOnly : texts.now.none}</span><span class="unseen">, {texts.now.choose}</span>
      </Button>
      <Button aria-label={texts.now.nextStation} {...to(number + 1)}><Arrow way={1} /></Button>
    </div>
    {work.has_slope && !work.mark && <Keys name={texts.now.faceName} quiet value={work.face === 1 ? "1" : "2"}
      keys={[["1", texts.now.face1], ["2", texts.now.face2]]} command={face => `face ${face}`} />}
    {open && <Sheet name={texts.now.stations} close={() => setOpen(false)}><Stations chosen={() => setOpen(false)} /></Sheet>}
  </div>;
}

/// What the survey is called, who reads and who checks; nobody has to say it before they begin.
function Persons() {
  const work = useShown(from => from.topics.work), [open, setOpen] = useState(false), say = texts.persons;
  if (!work) return null;
  const said = [work.called, work.read_by && say.read(work.read_by), work.checked_by && say.checked(work.checked_by)].filter(each => each);
  return <>
    <button type="button" class="wide more" onClick={() => setOpen(true)}>
      <span>{said.join(", ") || say.nobody}</span> <u>{said.length > 0 ? texts.now.change : say.tell}</u>
    </button>
    {open && <Sheet name={say.name} close={() => setOpen(false)}><PersonsForm close={() => setOpen(false)} /></Sheet>}
  </>;
}

function PersonsForm({close}: {close: () => void}) {
  const work = useShown(from => from.topics.work), why = useShown(blocked), say = texts.persons;
  const [called, setCalled] = useState(work?.called ?? "");
  const [reader, setReader] = useState(work?.read_by || comfort.readBy), [checker, setChecker] = useState(work?.checked_by || comfort.checkedBy);
  const told = [["called", called, work?.called], ["read by", reader, work?.read_by], ["checked by", checker, work?.checked_by]] as const;
  const field = (label: string, value: string, set: (value: string) => void) =>
    <label>{label}<input value={value} maxLength={40} autocomplete="off" onInput={event => set(event.currentTarget.value)} /></label>;
  return <Form off={why} send={() => {
    setPersons(reader.trim(), checker.trim());
    void askAll(told.filter(([, name, before]) => name.trim() && name.trim() !== before).map(([command, name]) => `${command} ${name.trim()}`), false);
    close();
  }}>
    <p class="soft">{say.more}</p>
    {field(say.called, called, setCalled)}{field(say.reader, reader, setReader)}{field(say.checker, checker, setChecker)}
    <button class="main" aria-disabled={why ? "true" : undefined}>{say.keep}</button>
  </Form>;
}

function SetUp() {
  const work = useShown(from => from.topics.work), [open, setOpen] = useState(false);
  if (!work) return null;
  const stage = <p class="stage">{texts.now.stageIs(work.stage, work.survey)}</p>;
  if (!work.has_slope && !work.has_distance) return <Section name={texts.now.stage} quiet>{stage}<Persons /></Section>;
  const laser = work.laser_at ? texts.now.laserStands(work.laser_at) : texts.now.laserNotSaid;
  return <Section name={texts.now.edgeAndSetUp} quiet>
    {stage}
    <Persons />
    <button type="button" class="wide more" onClick={() => setOpen(true)}>
      <span>{work.has_distance ? `${texts.now.shown(texts.word(work.edge), work.set_up)}, ${laser}` : texts.now.shownEdge(texts.word(work.edge))}</span> <u>{texts.now.change}</u>
    </button>
    {open && <Sheet name={texts.now.edgeAndSetUp} close={() => setOpen(false)}><EdgeAndSetUp close={() => setOpen(false)} /></Sheet>}
  </Section>;
}

export function Arrow({way}: {way: 1 | -1}) {
  return <svg class="arrow" viewBox="0 0 24 24" aria-hidden="true"><path d={way < 0 ? "M15.5 3.5L7 12l8.5 8.5" : "M8.5 3.5L17 12l-8.5 8.5"} /></svg>;
}

export function Stations({chosen}: {chosen?: () => void}) {
  const readings = useShown(from => from.topics.readings), job = useShown(from => from.topics.job);
  const work = useShown(from => from.topics.work), stay = useShown(from => staying(from.topics.live));
  if (!job || !work) return null;
  return <ol class="stations">
    {job.stations.map(each => {
      const read = readWords(readAt(readings, stay, each.number));
      const best = work.next?.station === each.number ? bestWords(work.next) : "";
      return <li key={each.number}>
        <Button command={`station ${each.number}`} aria-current={work.station === each.number ? "true" : undefined} {...(chosen && {onClick: chosen})}>
          <b>{each.at}</b>
          <span class="soft">{texts.now.stationNumber(each.number)}</span>
          <span class="done"><Mark shape={read.length ? "good" : "open"} />{read.length ? texts.now.read(read.join("; ")) : texts.now.notRead}</span>
          {work.station === each.number && <span class="tag">{texts.now.youAreHere}</span>}
          {best && <span class="tag tag-best">{texts.now.best(best)}</span>}
        </Button>
      </li>;
    })}
    {work.has_distance && job.marks.map(each => {
      const read = readAt(readings, stay, null, each.name).length > 0;
      return <li key={each.name}>
        <Button command={`station ${each.name}`} aria-current={work.mark === each.name ? "true" : undefined} {...(chosen && {onClick: chosen})}>
          <b>{each.name}</b>
          <span class="soft">{texts.now.markAt(each.at)}</span>
          <span class="done"><Mark shape={read ? "good" : "open"} />{read ? texts.now.read((texts.gives["distance"] ?? "").toLowerCase()) : texts.now.notRead}</span>
          {work.mark === each.name && <span class="tag">{texts.now.youAreHere}</span>}
        </Button>
      </li>;
    })}
  </ol>;
}

function EdgeAndSetUp({close}: {close: () => void}) {
  const work = useShown(from => from.topics.work), why = useShown(blocked), unit = useShown(from => from.topics.job?.units.place ?? "");
  const [name, setName] = useState(work?.set_up ?? ""), [at, setAt] = useState(work?.laser_at ?? "");
  if (!work) return null;
  const edges = Object.keys(texts.now.edges).map(key => [key, withSeen(texts.now.edges[key]!, 0, key === "left" ? 1 : key === "right" ? -1 : 0)] as [string, string]);
  return <>
    <Keys name={texts.now.edge} value={work.edge} keys={edges} command={edge => `edge ${edge}`} />
    {work.has_distance && <Form off={why || (name.trim() ? "" : texts.now.setUpNameless)} send={() => {
      void ask(`set-up ${name.trim()}${at.trim() && ` at ${at.trim()}`}`);
      close();
    }}>
      <h3>{texts.now.setUp}</h3>
      <label>{texts.now.setUpName}<input value={name} maxLength={40} required onInput={event => {
        setName(event.currentTarget.value);
        setAt("");  // it belonged to the former one
      }} /></label>
      <label>{texts.now.laserAt(unit)}<input value={at} maxLength={40} aria-describedby="laser-hint" onInput={event => setAt(event.currentTarget.value)} /></label>
      <p id="laser-hint" class="soft">{texts.now.laserAtHint(work.at || "4500 mm")}</p>
      <button class="main" aria-disabled={why ? "true" : undefined}>{texts.now.placed}</button>
    </Form>}
  </>;
}

// ---- dock -----------------------------------------------------------------------------------------------------------

/// Stays where it is whatever happens above: the thumb finds it.
export function Dock() {
  const work = useShown(from => from.topics.work), readings = useShown(from => from.topics.readings);
  const stay = useShown(from => staying(from.topics.live)), justTaken = useShown(from => from.justTaken);
  const settled = useShown(from => isSettled(from.topics.live?.instruments ?? [], from.topics.work?.mark)), still = useShown(from => areSettled(from.topics.live));
  const why = useShown(blocked), checking = useShown(from => !!from.topics.kit?.check);
  const asked = useShown(from => from.asked?.command ?? ""), undone = useShown(from => from.undone);
  if (!work) return null;
  const last = readings?.last ?? "", any = (readings?.readings ?? []).some(each => each.kept);
  const alone = !work.has_slope && !work.has_distance;  // nothing walks
  const waiting = why !== texts.link.blocked && (work.doing !== "" || asked === "take" || asked === "take fixed");
  const off = work.moving ? texts.now.takeMoved : checking ? texts.now.takeCheck
      : !work.at && !alone ? texts.now.takeNoStation : justTaken ? texts.now.justTaken : "";
  const here = placeWords(work.at, work.mark ? "" : work.edge);
  const place = alone ? texts.now.allFixed : work.has_slope && !work.mark ? texts.now.takeAt(here, texts.face(work.face)) : here;
  const again = !alone && (work.mark ? readAt(readings, stay, null, work.mark).length > 0 : isRead(readAt(readings, stay, work.station), work));
  const about = why && !waiting ? why : waiting ? (work.waits_for ? texts.next.waitsFor(work.waits_for) : texts.now.waiting)
      : off || ((alone ? still : settled) ? place : `${place}; ${texts.now.takeWaits}`);
  return <Section name={texts.now.dock} quiet class="dock">
    <div class="last">
      <p>{undone ? texts.now.undone(undone, last || texts.now.nothingTaken) : last || texts.now.nothingTaken}</p>
      {waiting ? <Button is="give up" command="give up">{texts.now.giveUp}</Button>
        : <Button is={`undo ${last}`} command="undo" off={work.moving ? texts.now.takeMoved : any ? "" : texts.now.nothingTaken}>{texts.now.undo}</Button>}
    </div>
    {!alone && <Place />}
    <Button class={waiting ? "take take-waiting" : "take"} command={alone ? "take fixed" : "take"} off={off}>
      <Mark shape={waiting ? "still" : "take"} />
      <span><b>{alone ? texts.now.takeFixed : again ? texts.now.takeAgain : texts.now.take}</b>{" "}
        <span class="take-about">{about}</span></span>
    </Button>
  </Section>;
}

/// Of the instruments that stay.
const areSettled = (live: Live | undefined) => (live?.instruments ?? []).filter(each => each.speaks).every(each =>
    each.channels.every(channel => !isReading(channel) || walks(channel) || channel.settled));

// ---- the view -------------------------------------------------------------------------------------------------------

export function Now() {
  const watched = useShown(from => !!from.topics.watch?.what);
  return <div class="now">
    <h1 class="unseen" tabIndex={-1}>{texts.views.now}</h1>
    {watched ? <WatchPanel /> : <Instruction />}
    <Level />
    <SetUp />
    <Staying />
    <Section name={texts.sketch.name}><Sides /></Section>
    <Section name={texts.now.stations} class="only-wide"><Stations /></Section>
  </div>;
}
