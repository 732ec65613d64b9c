// watch.tsx: a move or a load under watch: what is read, what must be read when it is done, and "stop", in the biggest letters.
import {useLayoutEffect, useRef} from "preact/hooks";

import type {Card, Move} from "./messages";
import {whatIsUnknown} from "./next";
import {Button, Mark, Section, type Shape} from "./parts";
import {isOld, useShown} from "./store";
import {texts} from "./texts";

export const kVerdict: {[verdict: string]: Shape} = {"on the way": "moving", done: "good", "too far": "look", "wrong way": "stop", stop: "stop"};

/// What is said now, and its shape; nothing is watched: null.
function useSaid(): {words: string; shape: Shape; unknown: boolean} | null {
  const watch = useShown(from => from.topics.watch), old = useShown(isOld);
  if (!watch?.what) return null;
  const unknown = whatIsUnknown(watch, old);
  return {words: unknown || watch.says || texts.watch.begins, shape: unknown ? "stop" : kVerdict[watch.verdict] ?? "moving", unknown: unknown !== ""};
}

/// On every view but Now, below what scrolls: "stop" is in sight wherever one looks. Leads to the whole of it.
export function WatchBar() {
  const said = useSaid();
  return said && <aside class="watch-short" aria-label={texts.watch.short}>
    <a class={`watch-bar watch-bar-${said.shape}`} href="#now"><Mark shape={said.shape} /><span>{said.words}</span></a>
  </aside>;
}

export function WatchPanel() {
  const watch = useShown(from => from.topics.watch), said = useSaid(), say = texts.watch;
  const top = useRef<HTMLDivElement>(null), stopped = said?.shape === "stop";
  // Brought into sight when it begins, and whenever it becomes "stop".
  useLayoutEffect(() => top.current?.parentElement?.scrollIntoView({block: "start"}), [watch?.what, stopped]);
  if (!watch?.what || !said) return null;
  const {shape} = said;
  if (said.unknown)
    return <Section name={say.name} class="watch watch-stop">
      <div ref={top} />
      <p class="label">{watch.what}</p>
      <div class="next-words" role="alert"><Mark shape="stop" /><p>{said.words}</p></div>
      <p class="lead">{say.unknownMore}</p>
      {watch.stop_said && <p class="trouble">{say.stopWasSaid}</p>}
      <Button class="wide" command="watch off">{say.off}</Button>
    </Section>;
  return <Section name={say.name} class={`watch watch-${shape}`}>
    <div ref={top} />
    <p class="label">{watch.what}</p>
    <div class="next-words" role={shape === "stop" ? "alert" : undefined}><Mark shape={shape} /><p>{said.words}</p></div>
    {watch.stop_said && watch.verdict !== "stop" && <p class="trouble">{say.stopWasSaid}</p>}
    {shape !== "stop" && <progress max={1} value={watch.share} aria-label={say.share} />}
    {shape !== "stop" && watch.turns_to_go && <p class="big">{say.toGo(watch.turns_to_go)}</p>}
    <ul class="watched">{watch.channels.map(each => <li key={`${each.name} ${each.at}`}>
      <p class="soft">{each.name}, {each.at}</p>
      <p><span class="label">{say.now}</span> <b class="big">{each.now}</b></p>
      <p><span class="label">{say.must}</span> <b class="big">{each.must_read}</b> <span class="soft">± {each.band}</span></p>
    </li>)}</ul>
    <p class="soft">{say.more}</p>
    <Button class="wide" command="watch off">{say.off}</Button>
  </Section>;
}

/// Where to stand for the next move, and the key that begins it under watch.
export function BeginWatch({card, move}: {card: Card; move: Move}) {
  const work = useShown(from => from.topics.work), watching = useShown(from => !!from.topics.watch?.what), say = texts.watch;
  const stand = card.stand?.order === move.order ? card.stand : null;
  if (!card.begun || move.made || move.when_stage || watching || !work) return null;
  return <div class="begin-watch">
    {stand && stand.station > 0 && <>
      <p>{say.stand(stand.instrument, stand.at)}</p>
      {work.station !== stand.station && <Button class="wide" command={`station ${stand.station}`}>{texts.now.goTo(stand.at)}</Button>}
    </>}
    <Button class="wide" command={`watch ${move.order}`}>{say.begin(move.order)}</Button>
    <p class="soft">{say.beginMore}</p>
  </div>;
}
