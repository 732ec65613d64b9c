// record.tsx: the level book: its surveys, this one's readings and how to mend what was said wrongly, seals, the stage.
import {useState} from "preact/hooks";

import type {BookedReading, Job} from "./messages";
import {Button, Confirmed, Form, Section, Sheet, State} from "./parts";
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

function CorrectSheet({reading, job, close}: {reading: BookedReading; job: Job; close: () => void}) {
  const distance = reading.channel === "distance", off = useShown(blocked), [opened] = useState(seenNow);
  const things = distance ? (reading.mark ? (["station", "setUp"] as const) : (["station", "edge", "setUp"] as const)) : (["station", "face", "edge"] as const);
  const [thing, setThing] = useState<(typeof things)[number]>("station");
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
  return <Sheet name={say.correct(reading.entry)} held close={close}>
    <Form off={not} send={() => {
      void ask(`correct ${reading.entry} ${chosen}`, opened);
      close();
    }}>
      <p>{wordsOf(reading)}. {say.never}</p>
      <label>{say.what}<select value={thing} onChange={event => {
        setThing(event.currentTarget.value as typeof thing);
        setTo("");
      }}>{things.map(each => <option key={each} value={each}>{say.things[each]}</option>)}</select></label>
      <label>{say.rightOne}{list
        ? <select key={thing} value={chosen} onChange={event => setTo(event.currentTarget.value)}>{list.map(([value, label]) => <option key={value} value={value}>{label}</option>)}</select>
        : <input value={setUp} maxLength={40} onInput={event => setSetUp(event.currentTarget.value)} />}</label>
      <div class="choice">
        <button class="main" aria-disabled={not ? "true" : undefined}>{say.correct(reading.entry)}</button>
        <button type="button" onClick={close}>{texts.cancel}</button>
      </div>
    </Form>
  </Sheet>;
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
    {sheet === "correct" && <CorrectSheet reading={reading} job={job} close={end("correct")} />}
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

export function RecordView() {
  const record = useShown(from => from.topics.record), readings = useShown(from => from.topics.readings?.readings);
  const job = useShown(from => from.topics.job), stage = useShown(from => from.topics.work?.stage);
  const under = useShown(from => from.topics.work?.survey), compared = useShown(from => from.topics.recheck?.from);
  const seal = record?.seals[0];
  return <div class="record">
    <h1 tabIndex={-1}>{texts.views.record}</h1>
    {record && <p class="soft">{say.book}: {record.book}</p>}

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
      </li>)}</ul> : <p>{say.noSurveys}</p>}
    </Section>

    {job && stage !== undefined && <Stage job={job} stage={stage} />}

    <Section name={say.readings} class="booked-list">
      {job && readings?.length ? <ol>{[...readings].reverse().map(each => <Reading key={each.entry} reading={each} job={job} />)}</ol>
                               : <p>{say.noReadings}</p>}
    </Section>
  </div>;
}
