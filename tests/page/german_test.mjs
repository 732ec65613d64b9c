// The page in German, on the smallest phone: every view from the first reading to the card, nothing cut off, and not a word of the
// English texts. What the daemon still says in English is said in whole sentences, and listed here.
import assert from "node:assert/strict";
import {spawnSync} from "node:child_process";
import {after, before, test} from "node:test";

import {assertAccessible, assertNoFaults, button, connected, goTo, kViews, openBrowser, openPage, overflow, picture, region, smallTargets} from "./support/browser.mjs";
import {english, german, speak, texts} from "./support/packages.mjs";
import {Phone, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {until} from "./support/waiting.mjs";

const kSmall = {width: 360, height: 640};
// Where what the daemon says in English stands, by their style: guided checks and calibrations of the kit, and names of unknowns.
const kEnglish = [".kit article > p", ".kit article li", ".check", ".learned", ".warnings", ".did"];

let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

/// Every text that is one, by its place: "now.take".
function* words(from, path = []) {
  for (const [key, value] of Object.entries(from))
    if (typeof value === "string") yield [[...path, key].join("."), value];
    else if (value && typeof value === "object") yield* words(value, [...path, key]);
}

const inGerman = text => text.replace(/^/, 'language = "de"\n');

/// Texts of the English page that stand on this one, each by itself.
function leftInEnglish(page, left, except) {
  return page.evaluate(([left, except]) => {
    const found = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const said = walker.currentNode.textContent.trim(), node = walker.currentNode.parentElement;
      if (left.includes(said) && !node.closest(["script", "noscript", ...except].join(", "))) found.push(`${said} (${node.tagName} ${node.className})`);
    }
    return found;
  }, [left, except]);
}

test("both languages have the same texts, and functions of as many values", () => {
  const shape = from => Object.entries(from).map(([key, value]) =>
      [key, typeof value === "object" ? (Array.isArray(value) ? value.length : shape(value)) : typeof value]).sort();
  for (const part of Object.keys(english)) assert.deepEqual(shape({part: german[part]}), shape({part: english[part]}), part);
  for (const [place, text] of words(german)) assert.ok(text.trim(), place);
});

test("the job in German on a small phone", {timeout: 600_000}, async t => {
  speak("de");
  t.after(() => speak("en"));
  const german = Object.fromEntries(words(texts)), left = [...words(english)].filter(([place, text]) => /[a-z]{3}/.test(text) && german[place] !== text).map(([, text]) => text);
  assert.ok(left.length > 200);
  const site = await Site.begin(t, {seed: 3, change: text => (text.includes("[tolerance]") ? inGerman(text) : text)});
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url, kSmall);
  await connected(page);
  assert.equal(phone.topics.job.language, "de");
  assert.equal(await page.evaluate(() => document.documentElement.lang), "de");
  const lookAt = async where => {
    for (const view of kViews) {
      await goTo(page, view);
      assert.equal(await page.title(), texts.titleOf(texts.views[view]));
      await picture(page, `german ${where} ${view}`, [[360, 640], [820, 1180]]);
      await page.setViewportSize(kSmall);
      // Drawings take the new width some frames later.
      await until(async () => (await overflow(page)).length === 0, "", 10_000).catch(async () => assert.deepEqual(await overflow(page), [], `${where}: ${view}`));
      assert.deepEqual(await smallTargets(page), [], `${where}: ${view}`);
      assert.deepEqual(await leftInEnglish(page, left, kEnglish), [], `${where}: ${view}`);
      await assertAccessible(page, `${where}: ${view}`);
    }
  };
  await lookAt("nothing read");

  // Whoever works says who they are, and where they stand.
  await goTo(page, "now");
  await button(page, `${texts.persons.nobody} ${texts.persons.tell}`).tap();
  const dialog = page.getByRole("dialog", {name: texts.persons.name});
  await dialog.getByLabel(texts.persons.called).fill("Rohmontage");
  await dialog.getByLabel(texts.persons.reader).fill("A. Muster");
  await dialog.getByLabel(texts.persons.checker).fill("B. Beispiel");
  await button(dialog, texts.persons.keep).tap();
  await phone.until(({work}) => work.called === "Rohmontage" && work.read_by === "A. Muster" && work.checked_by === "B. Beispiel", "that they are in the book");
  await button(region(page, texts.sketch.name), texts.side.atRight).tap();

  await readAll(site, phone);
  await lookAt("all read");
  assert.match(phone.topics.card.reason, /Höhenabweichung/);
  assert.match(phone.topics.card.before.error, /^\d+,\d+ mm$/);
  assert.match(phone.topics.job.cautions[0], /^Hubgeräte oder Stützen unter der Zeile lassen, bis /);
  await goTo(page, "card");
  await page.getByRole("heading", {level: 1, name: texts.card.answers[phone.topics.card.hold_point]}).waitFor();

  // Its print: in German, with the persons, and tagged with its language.
  const pdf = Buffer.from(await (await fetch(new URL(`/print/card/${phone.topics.work.survey}.pdf`, site.url))).arrayBuffer());
  assert.match(pdf.toString("latin1"), /\/Lang \(de\)/);
  const {stdout: printed, stderr: faults} = spawnSync("pdftotext", ["-layout", "-", "-"], {input: pdf, encoding: "utf8"});
  assert.equal(faults, "");
  for (const said of ["Montagekarte", "Dürfen die Schrauben endgültig festgezogen werden?", "VORSICHT", "Gemessen von", "A. Muster", "Zweite Person", "B. Beispiel",
                      "Rohmontage", "linke Kante", "Form, nicht Festigkeit"])
    assert.ok(printed.includes(said), `${said}\n${printed}`);
  assert.doesNotMatch(printed, /\b(the|with|bolts|survey|stage)\b/i);

  // What programs read stays as it is, and the book.
  site.daemon.say("card");
  const {shims} = await site.event(({event}) => event === "result", "the card");
  assert.match(shims.reason, /level error/);
  await phone.until(({card}) => card.entry > 0, "that the card is in the book");
  const begun = await phone.ask("begin moves");
  assert.ok(begun.done, begun.words);
  await phone.until(({card}) => card.begun, "that the moves begin");
  await page.getByText(texts.card.isNotMade).first().waitFor();
  assert.match(phone.topics.card.reason, /Höhenabweichung/);
  assertNoFaults(page);
});
