// parts.tsx: what the views are put together from.
import {createContext, type ComponentChildren, type JSX} from "preact";
import {useContext, useEffect, useId, useLayoutEffect, useRef, useState} from "preact/hooks";

import {kJustBecame, kStands} from "./limits";
import {ask, askAll, blocked, dismiss, refusePress, seenNow, takePress, useShown} from "./store";
import {texts} from "./texts";

/// The revision at which a dialog was opened: what is decided in it was decided by that.
export const Seen = createContext<number | undefined>(undefined);

/// Shapes that say the same as the words beside them, without colour.
const kShapes = {
  good: <g><circle cx="12" cy="12" r="10" fill="currentColor" /><path class="cut" d="M6.5 12.5l3.7 3.7 7.3-8" /></g>,
  moving: <g class="line"><circle cx="12" cy="12" r="9" stroke-dasharray="5 4.4" /><path d="M7.5 12h9" /></g>,
  look: <g><path d="M12 1.5L23 21.5H1z" fill="currentColor" /><path class="cut" d="M12 8.5v6M12 17v1.6" /></g>,
  bad: <g><path d="M7.5 1.5h9l6 6v9l-6 6h-9l-6-6v-9z" fill="currentColor" /><path class="cut" d="M7.8 7.8l8.4 8.4M16.2 7.8l-8.4 8.4" /></g>,
  do: <g><path d="M2 12L12 2l10 10-10 10z" fill="currentColor" /><path class="cut" d="M7.5 12h8M12 8l4 4-4 4" /></g>,
  still: <g class="line"><circle cx="12" cy="12" r="9.5" /><path d="M9 7.5v9M15 7.5v9" /></g>,
  take: <g><circle cx="12" cy="12" r="10.5" fill="currentColor" /><circle class="cut" cx="12" cy="12" r="5" fill="none" /></g>,
  open: <g class="line"><rect x="3" y="3" width="18" height="18" /></g>,
};
export type Shape = keyof typeof kShapes | "stop";

export function Mark({shape}: {shape: Shape}) {
  return <svg class={`mark mark-${shape}`} viewBox="0 0 24 24" aria-hidden="true">{kShapes[shape === "stop" ? "bad" : shape]}</svg>;
}

/// A word of state beside its shape.
export function State({shape, children}: {shape: Shape; children: ComponentChildren}) {
  return <span class={`state state-${shape}`}><Mark shape={shape} /><span>{children}</span></span>;
}

type ButtonProps = Omit<JSX.IntrinsicElements["button"], "onClick" | "disabled" | "command"> & {
  onClick?: () => void;
  command?: string | string[];  // asked when pressed, one after the other; it is off while nothing can be asked
  off?: string;      // why it does nothing; said when it is pressed all the same
  is?: string;       // what it does now, where that changes: one that has just become another refuses for a moment
  fresh?: boolean;   // it comes to where another was: refuses for a moment, too
  children?: ComponentChildren;
};

/// Where a button that had the focus goes away, the keyboard goes on from what is left of its section.
function keepFocus(gone: HTMLElement | null): void {
  const around = gone?.parentElement?.closest("li, section, dialog, main");
  if (!around || document.activeElement !== gone) return;
  setTimeout(() => {
    if (document.activeElement === document.body && around.isConnected) around.querySelector<HTMLElement>("h2[tabindex], button")?.focus({preventScroll: true});
  });
}

/// Whether it has just become what it is: a press may still be meant for what was here before.
function useJustBecame(is: string, fresh: boolean): boolean {
  const [settled, settle] = useState(fresh ? null : is);
  useEffect(() => {
    if (settled === is) return;
    const wait = setTimeout(() => settle(is), kJustBecame);
    return () => clearTimeout(wait);
  }, [settled, is]);
  return settled !== is;
}

/// Off stays focusable, so that a keyboard does not lose its place, and pressed it says why it is.
export function Button({onClick, command, off = "", is = "", fresh = false, children, ...rest}: ButtonProps) {
  const why = useShown(from => (command === undefined || command === "give up" ? "" : blocked(from)));
  const linkless = useShown(from => command === "give up" && from.link !== "connected");
  const reason = (useJustBecame(is, fresh) ? texts.justBecame : "") || off || (linkless ? texts.link.blocked : why);
  const seen = useContext(Seen), button = useRef<HTMLButtonElement>(null);
  useLayoutEffect(() => () => keepFocus(button.current), []);
  return <button type="button" ref={button} {...rest} aria-disabled={reason ? "true" : undefined} title={reason || undefined} onClick={() => {
    if (reason) return refusePress(reason);
    takePress();
    if (command) void (typeof command === "string" ? ask(command, seen) : askAll(command));
    onClick?.();
  }}>{children}</button>;
}

export function Section({name, quiet, children, ...rest}: {name: string; quiet?: boolean; children: ComponentChildren; class?: string}) {
  const id = useId();
  return <section {...rest} aria-labelledby={id}><h2 id={id} {...(quiet ? {class: "unseen"} : {tabIndex: -1})}>{name}</h2>{children}</section>;
}

/// What was not done, and why, until it is dismissed.
export function Refused() {
  const words = useShown(from => from.refused), kind = useShown(from => from.refusal);
  const heading = kind === "not known" ? texts.unknown : kind === "done late" ? texts.doneLate : texts.refused;
  return <div role="alert" class="refused">{words && <>
    <p><State shape="look"><b>{heading}.</b> {words}</State></p>
    <button type="button" onClick={dismiss}>{texts.dismiss}</button>
  </>}</div>;
}

/// What is filled in and sent; where it cannot be sent `off` says why, and so does whoever tries.
export function Form({off, send, children}: {off: string; send: () => void; children: ComponentChildren}) {
  return <form onSubmit={event => {
    event.preventDefault();
    if (off) return refusePress(off);
    takePress();
    send();
  }}>{children}</form>;
}

/// Modal: the browser keeps the focus in it, gives it back, and asks for its end on Escape. It is then closed here, and not by the
/// browser: that tells its end some time later, and what was opened meanwhile would be closed by that.
/// `held`: what is asked in it is refused when anything has changed since it was opened.
export function Sheet({name, held, close, children}: {name: string; held?: boolean; close: () => void; children: ComponentChildren}) {
  const [opened] = useState(seenNow);
  const dialog = useRef<HTMLDialogElement>(null), id = useId();
  useLayoutEffect(() => {
    const here = dialog.current!;
    if (!here.open) here.showModal();
    here.querySelector<HTMLElement>("[aria-current]")?.scrollIntoView({block: "center"});
    return () => here.close();
  }, []);
  const end = (event: Event) => {
    event.preventDefault();
    close();
  };
  return <dialog ref={dialog} aria-labelledby={id} onCancel={end} onClose={close} onClick={event => event.target === dialog.current && close()}>
    <div class="sheet">
      <div class="sheet-head"><h2 id={id}>{name}</h2><button type="button" class="plain" onClick={close}>{texts.close}</button></div>
      <Seen.Provider value={held ? opened : undefined}>{children}</Seen.Provider>
      <Refused />
    </div>
  </dialog>;
}

/// A document that the phone keeps, also for when it is out of reach.
export function Pdf({path, children}: {path: string; children: ComponentChildren}) {
  return <a class="wide" href={`/print/${path}.pdf`} download>{children}</a>;
}

/// A button that asks again before it does anything.
export function Confirmed({name, label = name, says, command, off, kind, children}:
    {name: string; label?: string; says: string; command: string; off?: string; kind?: string; children?: ComponentChildren}) {
  const [open, setOpen] = useState(false);
  const why = useShown(blocked);
  return <>
    <Button class={kind ?? "wide"} off={off || why} onClick={() => setOpen(true)}>{children ?? name}</Button>
    {open && <Sheet name={name} held close={() => setOpen(false)}>
      <p>{says}</p>
      <div class="choice">
        <Button class="main" command={command} onClick={() => setOpen(false)}>{label}</Button>
        <button type="button" onClick={() => setOpen(false)}>{texts.cancel}</button>
      </div>
    </Sheet>}
  </>;
}

/// A row of keys of which one is held down. `command` makes what is asked when another is pressed.
export function Keys<Value extends string>({name, quiet, value, keys, choose, command}: {
  name: string; quiet?: boolean; value: string; keys: [Value, string][]; choose?: (value: Value) => void; command?: (value: Value) => string;
}) {
  const id = useId();
  return <div class="keys" role="group" aria-labelledby={id}><p id={id} class={quiet ? "unseen" : "label"}>{name}</p><div>
    {keys.map(([key, label]) => {
      const is = key === value;
      return <Button key={key} aria-pressed={is} {...(command && !is ? {command: command(key)} : {})}
        onClick={() => !is && choose?.(key)}>{label}</Button>;
    })}
  </div></div>;
}

/// As it is printed: a true plus-minus sign, and no number torn from it or from its unit.
export const typeset = (words: string) => words.replace(/ \+- /g, "\u00a0± ").replace(/(\d) (?=(?:mm|in|ft|kg|lb|lbf|k?N)\b|%)/g, "$1\u00a0");

export function List({items, kind}: {items: string[]; kind?: string}) {
  return items.length === 0 ? null : <ul class={kind}>{items.map((item, i) => <li key={i}>{item}</li>)}</ul>;
}

/// The width it is given, so that drawings have letters of one size whatever the screen.
export function useWidth(): [ref: {current: HTMLDivElement | null}, width: number] {
  const ref = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(0);
  useLayoutEffect(() => {
    const here = ref.current!;
    setWidth(Math.floor(here.clientWidth));
    const watch = new ResizeObserver(() => setWidth(Math.floor(here.clientWidth)));
    watch.observe(here);
    return () => watch.disconnect();
  }, []);
  return [ref, width];
}

/// Says it to screen readers once it has stood for a moment, so that what flickers is not said.
export function Announced({words}: {words: string}) {
  const [said, say] = useState("");
  useEffect(() => {
    const wait = setTimeout(() => say(words), kStands);
    return () => clearTimeout(wait);
  }, [words]);
  return <p role="status" class="unseen">{said}</p>;
}

