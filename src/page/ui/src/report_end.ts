// SPDX-License-Identifier: GPL-3.0-or-later
// What a report is read under, and what it was made from.
import { h } from "./dom";
import type { Reading } from "./report_data";
import { list, paragraph, sentences } from "./report_parts";

/** Of the model: what it leaves out (as in README.md, Honest limits and Cautions). */
const LIMITS = [
  "The swing has one plane and one wrist hinge, the head is rigid, and the hands are a hinge with a couple: a real swing has more. Differences between shafts for one player are therefore worth more than absolute values.",
  "Published sets of drag and lift do not agree: the carry stands with the range that they give.",
  "Studies that were published disagree on some signs from golfer to golfer. A player’s own load has to come from measurement.",
];
const CARE = [
  "A broken or cracked shaft is thrown away, not repaired. Nobody stands near a swing.",
  "Whether a club conforms is decided by the rules bodies; a change of swing by a coach; pain by a clinician.",
];

export function limits(reading: Reading): HTMLElement[] {
  const { warnings, notes, cautions } = reading.data;
  return [list(LIMITS), list([...new Set(sentences([...cautions, ...CARE]))], "cautions"), ...(warnings.length + notes.length ? [h("h3", {}, "Notes to these figures"), list(sentences([...warnings, ...notes]))] : [])];
}

export function made(reading: Reading): HTMLElement[] {
  const { version, setups, set, swings, seed, keep } = reading.data;
  const says = [
    `caber ${version}; ${setups.map((s) => `${s.name} from ${s.file}`).join("; ")}.`,
    ...(set.length ? [`Changed against the files: ${set.join("; ")}.`] : []),
    ...(setups.length > 1 ? [keep === "delivery" ? "All have the delivery of the first in common: head speed and handle lean at impact." : "Each setup is swung with the load in its own player’s file."] : []),
    `Spread: ${swings} swings, random numbers ${seed}. Ball: coefficients of ${setups[0].swing.ball.coefficients}.`,
    ...setups.filter((s) => s.uncertainty).map((s) => `Errors of the profile of ${s.name}: ${s.uncertainty?.spread.draws} draws.`),
  ];
  const whole = setups.map((s) => h("details", {}, h("summary", {}, `The setup ${s.name} as one file (opened, it is printed too)`), h("pre", { tabindex: 0 }, s.inputs.text)));
  return [list(says), ...whole, paragraph("The same files and the same words give this same page again. It was made on the machine where the setups are, and fetches nothing.", "fine")];
}
