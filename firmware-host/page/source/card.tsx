// card.tsx: the answer in words first; the moves one at a time; what they will bring, and what they brought.
import {useEffect, useRef, useState} from "preact/hooks";

import {useComfort} from "./comfort";
import type {Card, Move, Piece} from "./messages";
import {Arrow} from "./now";
import {Button, Confirmed, List, Mark, Pdf, Section, State, useWidth, type Shape} from "./parts";
import {placeSeen} from "./sides";
import {PlanSketch} from "./sketch";
import {useShown} from "./store";
import {texts} from "./texts";
import {BeginWatch, WatchPanel} from "./watch";

const kShape: {[holdPoint: string]: Shape} = {
  "ready to bolt": "good", "shim first": "do", "read again": "moving", "shims cannot": "bad",
};

function Cautions() {
  const cautions = useShown(from => from.topics.job?.cautions);
  return cautions?.length ? <div class="cautions" role="note">
    <p class="cautions-name"><Mark shape="look" /><b>{texts.card.cautions}</b></p><List items={cautions} />
  </div> : null;
}

// ---- moves ----------------------------------------------------------------------------------------------------------

/// From the side, the thicker ones drawn thicker.
function Stack({pieces}: {pieces: Piece[]}) {
  const thickest = Math.max(...pieces.map(each => each.thickness_m));
  let y = 0;
  const plates = pieces.flatMap(each => Array.from({length: Math.min(each.count, 12)}, () => {
    const height = 7 + 11 * (each.thickness_m / thickest), top = y;
    y += height + 3;
    return {top, height};
  }));
  return <div class="stack">
    <svg width="96" height={y + 5} aria-hidden="true">
      {plates.map((each, i) => <rect key={i} class="plate" x="8" y={each.top + 1} width="80" height={each.height} />)}
      <path class="edge-line" d={`M0 ${y + 2}h96`} />
    </svg>
    <ul>{pieces.map((each, i) => <li key={i}><b>{texts.card.piece(each.count, each.name)}</b></li>)}</ul>
  </div>;
}

function Stacks({pieces}: {pieces: Piece[]}) {
  useComfort();
  const places = [...new Set(pieces.map(each => each.where))];
  if (places.length === 0) return <p class="big">{texts.card.noPieces}</p>;
  return <div class="stacks">{places.map(where => <div key={where}>
    <p class="label">{placeSeen(where)}</p>
    <Stack pieces={pieces.filter(each => each.where === where)} />
  </div>)}</div>;
}

function Turns({turns, words}: {turns: number; words: string}) {
  return <p class="turns"><svg viewBox="0 0 48 48" aria-hidden="true">
    <path class="rod" d="M24 2v44" /><path class="solid" d="M14 20h20v8H14z" />
    <path class="turn-arrow" d={turns > 0 ? "M40 40V10M34 16l6-8 6 8" : "M40 8v30M34 32l6 8 6-8"} />
  </svg><b>{words}</b></p>;
}

function MoveBox({card, move, tick}: {card: Card; move: Move; tick: () => void}) {
  const say = texts.card, job = useShown(from => from.topics.job);
  return <div class={move.made ? "move move-made" : "move"}>
    <h3>{move.support}</h3>
    <p><State shape={move.made ? "good" : "open"}>{move.made ? say.isMade : say.isNotMade}</State></p>
    {move.when_stage && <p class="trouble"><State shape="look">{say.whenStage(move.when_stage)}</State></p>}
    {move.by === "shims" ? <Stacks pieces={move.pieces} /> : move.by === "rod" ? <Turns turns={move.turns} words={move.turns_words} /> : null}
    <p class={move.by === "lift" ? "big" : undefined}>{move.does}</p>
    {job && <PlanSketch job={job} move={move} />}
    <dl class="how">
      {move.slacken && <div><dt>{say.slacken}</dt><dd>{move.slacken}</dd></div>}
      {move.keep && <div><dt>{say.keep}</dt><dd>{move.keep}</dd></div>}
      {move.then.length > 0 && <div><dt>{say.then}</dt><dd><List items={move.then} /></dd></div>}
    </dl>
    <Cautions />
    <BeginWatch card={card} move={move} />
    {move.level_after && <p class="soft">{say.levelAfter(move.level_after)}</p>}
    {card.trusted && !move.when_stage && !card.begun && <p class="soft">{say.beginMore}</p>}
    {card.trusted && !move.when_stage && (!card.begun
      ? <Button is="begin" class={card.hold_point === "ready to bolt" ? "wide" : "main tick"} command="begin moves">{say.begin}</Button>
      : move.made
      ? <Button is={`not made ${move.order}`} class="wide" command={`not made ${move.order}`}>{say.notMade(move.order)}</Button>
      : <Button is={`made ${move.order}`} class="main tick" command={`made ${move.order}`} onClick={tick}><Mark shape="good" /><span>{say.made(move.order)}</span></Button>)}
  </div>;
}

function Moves({card}: {card: Card}) {
  const moves = card.moves, say = texts.card;
  const next = () => moves.find(each => !each.made && !each.when_stage) ?? moves[0];
  // It stays at the move that is shown, whatever comes anew, until this person goes on.
  const [chosen, choose] = useState(next()?.order ?? 0);
  const ticked = useRef(false);
  const move = moves.find(each => each.order === chosen) ?? next(), step = move ? moves.indexOf(move) : 0;
  useEffect(() => {
    if (ticked.current && move?.made) choose(next()?.order ?? 0);
    ticked.current = false;
  }, [move?.made]);
  const ofStage = moves.filter(each => !each.when_stage), later = moves.find(each => each.when_stage);
  const bolt = card.hold_point === "ready to bolt", made = moves.some(each => each.made);
  const allMade = made && ofStage.every(each => each.made);
  const again = (kind: string) =>
      <Confirmed name={say.readAgain} says={allMade ? say.readAgainConfirm : say.readAgainPart} command="read again" kind={kind} />;
  return <Section name={say.moves} class="moves">
    <WatchPanel />
    {card.moves_are && !bolt && !(card.begun && card.trusted) && <p class={card.trusted ? "lead" : "trouble"}>
      {card.trusted ? card.moves_are : <State shape="look"><b>{card.moves_are}</b> {moves.length > 0 && say.cannotTick}</State>}</p>}
    {allMade && <div class="all-made"><State shape="good"><b>{later ? say.allMadeStage : say.allMade}</b> {say.allMadeMore}</State>{again("main")}</div>}
    {card.trusted && later && ofStage.length === 0 &&
      <Confirmed name={say.toStage(later.when_stage)} says={texts.record.stageConfirm} command={`stage ${later.when_stage}`} />}
    {!move ? <p>{say.noMove}</p> : <>
      <div class="stepper">
        <Button aria-label={say.previous} off={step > 0 ? "" : say.step(1, moves.length)} onClick={() => choose(moves[step - 1]!.order)}><Arrow way={-1} /></Button>
        <p aria-live="polite"><b>{say.step(step + 1, moves.length)}</b></p>
        <Button aria-label={say.next} off={step < moves.length - 1 ? "" : say.step(moves.length, moves.length)} onClick={() => choose(moves[step + 1]!.order)}><Arrow way={1} /></Button>
      </div>
      <MoveBox card={card} move={move} tick={() => (ticked.current = true)} />
      {card.begun && !made && <Button fresh class="wide" command="give up">{say.leave}</Button>}
      {made && !allMade && again("wide")}
    </>}
  </Section>;
}

// ---- what it brings -------------------------------------------------------------------------------------------------

function Expected({card}: {card: Card}) {
  const job = useShown(from => from.topics.job), say = texts.card;
  if (!job) return null;
  const {tolerance, tolerance_m, confidence} = job, rows = [
    {name: say.before, kind: "bar-before", ...card.before},
    ...(card.moves.length ? [{name: say.after, kind: "bar-after", ...card.after}] : []),
  ];
  const most = 1.15 * Math.max(1.2 * tolerance_m, ...rows.map(each => (each.error_m ?? 0) + 2 * (each.sigma_m ?? 0)));
  return <Section name={say.expected} class="expected">
    {rows.map(each => <div key={each.name} class="expected-row">
      <p><span class="label">{each.name}</span> <b class="big block">{say.error(each.error, each.sigma)}</b></p>
      {each.error_m !== null && <Bar kind={each.kind} value={each.error_m / most} sigma={(each.sigma_m ?? 0) / most} limit={tolerance_m / most} />}
      <p>{say.chance(tolerance, each.chance)}</p>
    </div>)}
    <p class="soft legend-line"><svg width="20" height="24" aria-hidden="true"><path class="limit" d="M10 0v24" /></svg>
      {say.tolerance(tolerance)}; {say.asked(confidence)}</p>
  </Section>;
}

/// Until enough is read: how far it has come, what is known so far, what is missing. No verdict, no move, no chance.
function Progress({card}: {card: Card}) {
  const walk = useShown(from => from.topics.work?.walk), job = useShown(from => from.topics.job), say = texts.card;
  const {error, sigma, error_m, sigma_m} = card.before;
  const most = 1.15 * Math.max(1.2 * (job?.tolerance_m ?? 0), (error_m ?? 0) + 2 * (sigma_m ?? 0));
  return <div class="card">
    <p class="label">{say.question}</p>
    <h1 tabIndex={-1} class="answer answer-moving"><Mark shape="moving" /><span>{say.notEnough}</span></h1>
    {walk && <div>
      <p class="lead">{texts.next.walked(walk.read, walk.places)}</p>
      <progress max={walk.places} value={walk.read} aria-label={say.progress} />
    </div>}
    {card.missing && <p class="lead">{card.missing}</p>}
    {job && error_m !== null && <Section name={say.soFar} class="expected"><div>
      <p><b class="big block">{say.error(error, sigma)}</b></p>
      <Bar kind="bar-before" value={error_m / most} sigma={(sigma_m ?? 0) / most} limit={job.tolerance_m / most} />
      <p class="soft">{say.soFarMore(job.tolerance)}</p>
    </div></Section>}
    {card.questions.length > 0 && <ByHand card={card} />}
    <a class="go" href="#now">{say.toReading}</a>
  </div>;
}

function ByHand({card}: {card: Card}) {
  return <Section name={texts.card.byHand} class="by-hand">
    {card.questions.map(each => <div key={each.asks}>
      <p class="lead"><State shape="look">{each.asks}</State></p>
      <div class="choice">{each.answers.map(answer =>
        <Button key={answer.command} class="wide" command={answer.command}>{answer.says}</Button>)}</div>
    </div>)}
  </Section>;
}

function Bar({kind, value, sigma, limit}: {kind: string; value: number; sigma: number; limit: number}) {
  const [box, width] = useWidth(), x = (share: number) => Math.max(0, Math.min(1, share)) * width;
  return <div ref={box}>{width > 0 && <svg width={width} height="34" aria-hidden="true">
    <rect class={kind} x="1" y="7" width={Math.max(1, x(value) - 1)} height="20" />
    {["whisker-under", "whisker"].map(layer => <path key={layer} class={layer}
      d={`M${x(value - 2 * sigma)} 17H${x(value + 2 * sigma)}M${x(value - 2 * sigma)} 11v12M${x(value + 2 * sigma)} 11v12`} />)}
    <path class="limit" d={`M${x(limit)} 0v34`} />
  </svg>}</div>;
}

export function CardView() {
  const card = useShown(from => from.topics.card), say = texts.card;
  const measured = useShown(from => from.topics.run?.measured ?? true), survey = useShown(from => from.topics.work?.survey ?? "");
  if (!card || !card.hold_point || !measured)
    return <div class="card"><h1 tabIndex={-1}>{say.none}</h1><p class="lead">{card?.reason || say.noneMore}</p>
      {card?.begun && <Confirmed name={say.readAgain} says={say.readAgainPart} command="read again" kind="main" />}</div>;
  if (!card.enough) return <Progress card={card} />;
  const bolt = card.hold_point === "ready to bolt";
  // Who makes the moves needs them first.
  const why = <><p class="lead">{card.says}</p>{bolt && <Cautions />}<p>{card.reason}</p></>;
  return <div class="card">
    {!card.begun && <p class="label">{say.question}</p>}
    <h1 tabIndex={-1} class={`answer answer-${kShape[card.hold_point] ?? "look"}`}>
      <Mark shape={kShape[card.hold_point] ?? "look"} /><span>{say.answers[card.hold_point] ?? card.hold_point}</span></h1>
    {!card.begun && why}
    {card.compared && <Section name={say.compared} class="compared">
      <p class="lead"><State shape={card.compared.agrees ? "good" : "look"}><b>{card.compared.agrees ? say.agrees : say.agreesNot}.</b> {card.compared.words}</State></p>
      <dl class="how">
        <div><dt>{say.promised}</dt><dd class="big">{say.error(card.compared.promised, card.compared.promised_sigma)}</dd></div>
        <div><dt>{say.found}</dt><dd class="big">{say.error(card.compared.found, card.compared.found_sigma)}</dd></div>
      </dl>
    </Section>}
    {card.questions.length > 0 && <ByHand card={card} />}
    {!bolt ? <Moves card={card} /> : card.moves.length > 0 && <details open={card.begun}><summary>{card.moves_are || say.moves}</summary><Moves card={card} /></details>}
    {card.begun && <Section name={say.reason}>{why}</Section>}
    <Expected card={card} />
    {card.troubles.length > 0 && <Section name={say.troubles}><ul class="warnings">
      {card.troubles.map((each, i) => <li key={i}><State shape="bad">{each}</State></li>)}</ul></Section>}
    {card.advice.length > 0 && <Section name={say.advice}><List items={card.advice} /></Section>}
    {survey && <Section name={say.print}><Pdf path={`card/${encodeURIComponent(survey)}`}>{say.pdf}</Pdf></Section>}
  </div>;
}
