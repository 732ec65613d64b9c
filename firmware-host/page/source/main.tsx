// main.tsx: the page's frame: whether it is connected, the view that the address names (#now ... #recheck), the way to the others.
import {render, type ComponentType} from "preact";
import {useEffect, useLayoutEffect, useRef, useState} from "preact/hooks";

import {CardView} from "./card";
import {startComfort} from "./comfort";
import {KitView} from "./kit";
import type {View} from "./next";
import {Dock, Now} from "./now";
import {Refused, State} from "./parts";
import {RecheckView} from "./recheck";
import {RecordView} from "./record";
import {RunView} from "./run";
import {forgetDone, isOld, start, useShown} from "./store";
import {texts} from "./texts";
import {WatchBar} from "./watch";

/// A recheck is reached from the record.
type Shown = View | "recheck";
const kViews: {[key in Shown]: ComponentType} = {now: Now, run: RunView, card: CardView, kit: KitView, record: RecordView, recheck: RecheckView};
const kIcons: {[key in View]: string} = {
  now: "M2 9l28-3v5L2 14zM8 17v9M24 15v11M4 28h24",
  run: "M2 8c8 13 20 13 28 0M2 24h28M7 24v-5M25 24v-5",
  card: "M5 25h22v-4H5zM5 18h22v-4H5zM9 11h14V8H9z",
  kit: "M4 9h24v16H4zM9 21v-4M13 21v-7M17 21v-4M21 21v-7M25 4H7",
  record: "M6 4h20v24H6zM11 10h10M11 15h10M20 20a3 3 0 110 6 3 3 0 010-6z",
};

function viewOfAddress(): Shown {
  const name = location.hash.slice(1);
  return name in kViews ? (name as Shown) : "now";
}

function Link() {
  const link = useShown(from => from.link), seconds = useShown(from => from.lostFor), quiet = useShown(from => from.quiet);
  const known = useShown(from => !!from.topics.work), stage = useShown(from => from.topics.work?.stage ?? "");
  const asked = useShown(from => from.asked?.command ?? "");
  const old = link === "lost" || quiet;
  return <header class={`link link-${old ? "lost" : link}`}>
    <p role={link === "lost" ? "alert" : quiet ? "status" : undefined}>
      {quiet ? <State shape="bad">{texts.link.quiet}</State>
        : link === "connected" ? <State shape="good">{texts.link.connected}</State>
        : link === "connecting" ? <State shape="moving">{texts.link.connecting}</State>
        : <State shape="bad">{known ? texts.link.lost : texts.link.never}</State>}
    </p>
    {old && known && <p class="since">{texts.link.since(seconds)}</p>}
    {!old && link === "connected" && (asked ? <p class="asked">{texts.link.asking(asked)}</p> : stage && <p>{texts.link.stage(stage)}</p>)}
  </header>;
}

function Page() {
  const [view, setView] = useState(viewOfAddress);
  const lost = useShown(isOld), done = useShown(from => from.done);
  const docked = useShown(from => !!from.topics.work && !from.topics.watch?.what) && view === "now";
  const main = useRef<HTMLElement>(null), first = useRef(true);
  useEffect(() => {
    const turn = () => {
      forgetDone();
      setView(viewOfAddress());
    };
    window.addEventListener("hashchange", turn);
    return () => window.removeEventListener("hashchange", turn);
  }, []);
  useLayoutEffect(() => {
    document.title = texts.titleOf(view === "recheck" ? texts.recheck.name : texts.views[view]);
    if (!first.current) {
      main.current!.scrollTop = 0;
      main.current!.querySelector("h1")?.focus({preventScroll: true});
    }
    first.current = false;
  }, [view, texts.document.lang]);
  const View = kViews[view], language = useShown(from => (from.topics, texts.document.lang));
  return <div key={language} class={`frame${lost ? " lost" : ""}${docked ? " docked" : ""}`} data-view={view}>
    <Link />
    <main ref={main}><View /></main>
    <div class="below">
      <Refused />
      {view !== "now" && <WatchBar />}
      <p role="status" class={view === "now" ? "unseen" : "did"}>{done}</p>
      {docked && <Dock />}
    </div>
    <nav aria-label={texts.nav}>
      {(Object.keys(texts.views) as View[]).map(each =>
        <a key={each} href={`#${each}`} aria-current={each === (view === "recheck" ? "record" : view) ? "page" : undefined}>
          <svg viewBox="0 0 32 32" aria-hidden="true"><path d={kIcons[each]} /></svg>{texts.views[each]}
        </a>)}
    </nav>
  </div>;
}

startComfort();
start();
render(<Page />, document.getElementById("page")!);
