// record.tsx: the level book: its surveys, this one's readings and how to mend what was said wrongly, seals, the stage.
import {useState} from "preact/hooks";

import type {BookedReading, Job} from "./messages";
import {staying} from "./next";
import {Button, Confirmed, Form, Pdf, Section, Sheet, State} from "./parts";
import {ask, blocked, seenNow, useShown} from "./store";
import {texts} from "./texts";

const say = texts.record;

/// A reason typed by hand, and what is asked with it.
function WhySheet({name, command, close}: {name: string; command: string; close: () => void}) {
  const [why, setWhy] = useState(""), off = useShown(blocked), [opened] = useState(seenNow);
  return <Sheet name={name} held close={close}>
    <Form off={off || (why.trim() ? "" : say.whyMissing)} send={() => {
      void ask(`${command} ${why.trim()}`, opened);
      close();
    }}>
      <p>{say.whyMissing} {say.never}</p>
      <label>{say.why}<input value={why} required maxLength={120} onInput={event => setWhy(event.currentTarget.value)} /></label>
      <div class="choice">
        <button class="main" aria-disabled={off ? "true" : undefined}>{name}</button>
        <button type="button" onClick={close}>{texts.cancel}</button>
      </div>
    </Form>
  </Sheet>;
}

type Thing = keyof typeof say.things;

/// Of an entry, or of a whole take: `command` is what is asked, followed by what is right; `reading` is what it says now.
function CorrectSheet({name, command, reading, things, words, job, close}:
    {name: string; command: string; reading: BookedReading; things: Thing[]; words: string; job: Job; close: () => void}) {
  const distance = reading.channel === "distance", off = useShown(blocked), [opened] = useState(seenNow);
  const [thing, setThing] = useState<Thing>("station");
  const choices: {[key: string]: [string, string][]} = {
    station: [...job.stations.map(each => [`station ${each.number}`, each.at] as [string, string]),
              ...(distance ? job.marks : []).map(each => [`station ${each.name}`, texts.now.mark(each.name)] as [string, string])],
    face: [["face 1", texts.now.face1], ["face 2", texts.now.face2]],
    edge: Object.keys(texts.now.edges).map(key => [`edge ${key}`, texts.now.edges[key]!]),
  };
  const said = `station ${reading.mark || reading.station}`;
  const [to, setTo] = useState(reading.station === null && !reading.mark ? "" : said), [setUp, setSetUp] = useState(reading.set_up);
  const list = choices[thing], chosen = list ? (to || list[0]?.[0] || "") : setUp.trim() && `set-up ${setUp.trim()}`;
  const not = off || (chosen && chosen !== said ? "" : say.sameAgain);
  return <Sheet name={name} held close={close}>
    <Form off={not} send={() => {
      void ask(`${command} ${chosen}`, opened);
      close();
    }}>
      <p>{words}. {say.never}</p>
      <label>{say.what}<select value={thing} onChange={event => {
        setThing(event.currentTarget.value as Thing);
        setTo("");
      }}>{things.map(each => <option key={each} value={each}>{say.things[each]}</option>)}</select></label>
      <label>{say.rightOne}{list
        ? <select key={thing} value={chosen} onChange={event => setTo(event.currentTarget.value)}>{list.map(([value, label]) => <option key={value} value={value}>{label}</option>)}</select>
        : <input value={setUp} maxLength={40} onInput={event => setSetUp(event.currentTarget.value)} />}</label>
      <div class="choice">
        <button class="main" aria-disabled={not ? "true" : undefined}>{name}</button>
        <button type="button" onClick={close}>{texts.cancel}</button>
      </div>
    </Form>
  </Sheet>;
}

const thingsOf = (reading: BookedReading): Thing[] =>
    reading.channel !== "distance" ? ["station", "face", "edge"] : reading.mark ? ["station", "setUp"] : ["station", "edge", "setUp"];

/// All that was taken there in one go: moved, set aside and put back as a whole.
function Take({readings, job, stay}: {readings: BookedReading[]; job: Job; stay: string[]}) {
  const [sheet, show] = useState<"" | "correct" | "aside" | "back">(""), off = useShown(blocked);
  const first = readings[0]!, faces = [...new Set(readings.filter(each => each.channel !== "distance").map(each => each.face))];
  const stays = readings.some(each => stay.includes(`${each.instrument} ${each.channel}`)), kept = readings.some(each => each.kept);
  const words = [stays ? texts.now.allFixed : first.at, ...(stays ? [] : faces.length > 1 ? [say.bothFaces] : faces.map(each => texts.face(each)))].join(", ");
  const name = say.take(first.take, words), end = () => show("");
  const leads = readings.find(each => each.channel !== "distance") ?? first;
  const things: Thing[] = leads.channel === "distance" ? thingsOf(leads) : faces.length > 1 ? ["station", "edge"] : ["station", "face", "edge"];
  return <li class={kept ? "take-of" : "take-of booked-aside"}>
    <h3>{name}</h3>
    <div class="choice">
      {!stays && <Button off={off} aria-label={say.correctTake(first.take)} onClick={() => show("correct")}>{say.short.correctTake}</Button>}
      <Button is={kept ? "aside" : "back"} off={off} aria-label={(kept ? say.setAsideTake : say.putBackTake)(first.take)} onClick={() => show(kept ? "aside" : "back")}>
        {kept ? say.short.setAsideTake : say.short.putBackTake}</Button>
    </div>
    {sheet === "correct" && <CorrectSheet name={say.correctTake(first.take)} command={`correct take ${first.entry}`} reading={leads} things={things}
      words={say.takeMore(words, readings.length)} job={job} close={end} />}
    {sheet === "aside" && <WhySheet name={say.setAsideTake(first.take)} command={`set aside take ${first.entry}`} close={end} />}
    {sheet === "back" && <WhySheet name={say.putBackTake(first.take)} command={`put back take ${first.entry}`} close={end} />}
    <ol>{readings.map(each => <Reading key={each.entry} reading={each} job={job} />)}</ol>
  </li>;
}

function wordsOf(reading: BookedReading): string {
  const parts = [`${texts.gives[reading.channel] ?? reading.channel} ${reading.value}`, reading.at];
  parts.push(reading.channel === "distance" ? say.setUp(reading.set_up) : texts.face(reading.face));
  if (reading.edge !== "middle") parts.push(say.edge(texts.now.edges[reading.edge] ?? reading.edge));
  return parts.join(", ");
}

function Reading({reading, job}: {reading: BookedReading; job: Job}) {
  const [sheet, show] = useState<"" | "correct" | "aside" | "back">(""), off = useShown(blocked);
  const other = reading.kept ? "aside" : "back";
  // Each closes itself alone: another may have been opened before the end of the former is told.
  const end = (which: typeof sheet) => () => show(now => (now === which ? "" : now));
  return <li class={reading.kept ? "booked" : "booked booked-aside"}>
    <p class="booked-head"><b>{say.entry(reading.entry)}</b>
      <State shape={!reading.kept ? "bad" : reading.fits ? "good" : "look"}>{!reading.kept ? say.setAsideByHand : reading.fits ? say.kept : say.setAsideByFit}</State></p>
    <p><b>{wordsOf(reading)}</b></p>
    <p class="soft">{reading.instrument}, {texts.time(reading.time)}, {say.sigma(reading.sigma)}{reading.residual && `, ${say.residual(reading.residual)}`}</p>
    {reading.reason && <p>{reading.reason}</p>}
    <div class="choice">
      <Button off={off} aria-label={say.correct(reading.entry)} onClick={() => show("correct")}>{say.short.correct}</Button>
      <Button is={other} off={off} aria-label={(reading.kept ? say.setAside : say.putBack)(reading.entry)} onClick={() => show(other)}>
        {reading.kept ? say.short.setAside : say.short.putBack}</Button>
    </div>
    {sheet === "correct" && <CorrectSheet name={say.correct(reading.entry)} command={`correct ${reading.entry}`} reading={reading} things={thingsOf(reading)}
      words={wordsOf(reading)} job={job} close={end("correct")} />}
    {sheet === "aside" && <WhySheet name={say.setAside(reading.entry)} command={`set aside ${reading.entry}`} close={end("aside")} />}
    {sheet === "back" && <WhySheet name={say.putBack(reading.entry)} command={`put back ${reading.entry}`} close={end("back")} />}
  </li>;
}

function Stage({job, stage}: {job: Job; stage: string}) {
  const others = job.stages.filter(each => each !== stage);
  const after = job.stages[job.stages.indexOf(stage) + 1] ?? others[0] ?? "";
  const [chosen, choose] = useState(""), to = others.includes(chosen) ? chosen : after;
  return <Section name={say.stage}>
    <p>{say.stageNow(stage)}</p>
    {others.length > 0 && <>
      <label>{say.stageNew}<select value={to} onChange={event => choose(event.currentTarget.value)}>
        {others.map(each => <option key={each} value={each}>{each}</option>)}</select></label>
      <Confirmed name={say.changeStage} label={say.stageBegin} says={`${to}: ${say.stageConfirm}`} command={`stage ${to}`} />
    </>}
  </Section>;
}

/// The last first.
function takesOf(readings: BookedReading[]): BookedReading[][] {
  const takes: BookedReading[][] = [];
  for (const each of readings)
    if (takes[0]?.[0]!.take === each.take) takes[0].push(each);
    else takes.unshift([each]);
  return takes;
}

export function RecordView() {
  const record = useShown(from => from.topics.record), readings = useShown(from => from.topics.readings?.readings);
  const job = useShown(from => from.topics.job), stage = useShown(from => from.topics.work?.stage);
  const under = useShown(from => from.topics.work?.survey), compared = useShown(from => from.topics.recheck?.from);
  const stay = (JSON.parse(useShown(from => staying(from.topics.live))) as [string, string][]).map(each => each.join(" "));
  const seal = record?.seals[0];
  return <div class="record">
    <h1 tabIndex={-1}>{texts.views.record}</h1>
    {record && <p class="soft">{say.book(record.book)}</p>}

    <Section name={say.seals} class="seals">
      {seal ? <>
        <p>{say.writeDown}</p>
        <p class="seal-code"><b>{seal.number} {seal.code}</b></p>
        <p class="soft">{say.sealedAt(texts.time(seal.time))}</p>
      </> : <p>{say.noSeals}</p>}
      <p class="soft">{say.sealMore}</p>
      <Confirmed name={say.seal} says={say.sealConfirm} command="seal" />
      {record && record.seals.length > 1 && <ul class="plain-list">{record.seals.slice(1).map(each =>
        <li key={each.number}><code>{each.number} {each.code}</code> <span class="soft">{say.sealedAt(texts.time(each.time))}</span></li>)}</ul>}
    </Section>

    <Section name={say.surveys} class="surveys">
      {compared !== undefined && <a class="wide" href="#recheck">{say.toRecheck(compared)}</a>}
      {record?.surveys.length ? <ul>{record.surveys.map(each => <li key={each.id}>
        <p><b>{say.survey(each.id)}</b>, {each.stage} <State shape={each.open ? "open" : "good"}>{each.open ? say.open : say.closed}</State></p>
        <p class="soft">{say.begun(texts.time(each.begun))}; {say.counts(each.kept, each.set_aside, each.moves)}</p>
        {each.id !== under && each.kept > 0 && <Button class="wide" command={`recheck ${each.id}`} onClick={() => {
          location.hash = "recheck";
        }}>{say.compare(each.id)}</Button>}
        <a class="wide" href={`/record/${encodeURIComponent(each.id)}.txt`} target="_blank" rel="noopener">{say.text(each.id)}</a>
        <Pdf path={`record/${encodeURIComponent(each.id)}`}>{say.pdf(each.id)}</Pdf>
      </li>)}</ul> : <p>{say.noSurveys}</p>}
    </Section>

    {job && stage !== undefined && <Stage job={job} stage={stage} />}

    <Section name={say.readings} class="booked-list">
      {job && readings?.length ? <ol>{takesOf(readings).map(each => <Take key={each[0]!.take} readings={each} job={job} stay={stay} />)}</ol>
                               : <p>{say.noReadings}</p>}
    </Section>
  </div>;
}
