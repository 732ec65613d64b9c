// sides.ts: left, right, near and far as the person sees them who stands at one of the run's long edges and looks at it. Pure.
import {comfort} from "./comfort";
import type {Where} from "./messages";
import {texts} from "./texts";

/// Of each place of a plate: towards the run's end (1) or its start mark (-1), and at the left (1) or right edge (-1).
const kPlaces: {[where in Where]: [far: number, left: number]} = {
  whole: [0, 0], near: [-1, 0], far: [1, 0], left: [0, 1], right: [0, -1],
  "near left": [-1, 1], "near right": [-1, -1], "far left": [1, 1], "far right": [1, -1],
};

/// "on your left, towards you"; empty where nobody said where they stand. Whoever stands at the left edge and looks at the run has
/// its end on the left.
export function seen(far: number, left: number): string {
  const stands = comfort.side === "left" ? 1 : comfort.side === "right" ? -1 : 0, parts = [];
  if (far * stands) parts.push(far * stands > 0 ? texts.side.onLeft : texts.side.onRight);
  if (left * stands) parts.push(left * stands > 0 ? texts.side.towards : texts.side.away);
  return parts.join(", ");
}

/// A name of the run's own with what it is for this person: "far left (on your left, towards you)".
export const withSeen = (name: string, far: number, left: number) => seen(far, left) ? `${name} (${seen(far, left)})` : name;
export const placeSeen = (where: Where) => withSeen(texts.card.where[where], ...kPlaces[where]);
