// The page in German, on the smallest phone: every view from a phone's pairing to the card and to what moved since, guided checks,
// refusals and prints; nothing cut off, and not a word of English.
import assert from "node:assert/strict";
import {spawnSync} from "node:child_process";
import {readFileSync} from "node:fs";
import {after, before, test} from "node:test";

import {assertAccessible, assertNoFaults, button, connected, goTo, kViews, openBrowser, openPage, overflow, picture, region, smallTargets} from "./support/browser.mjs";
import {english, german, speak, texts} from "./support/packages.mjs";
import {Phone, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {until} from "./support/waiting.mjs";

const kSmall = {width: 360, height: 640};
// Words that are English and no German ones. Names of the sheets and what stands in quotes are not looked at.
const kEnglish = ["the", "of", "and", "with", "which", "that", "this", "these", "is", "are", "to", "from", "by", "at", "it", "its", "has", "not", "nothing",
                  "nobody", "reads?", "readings?", "surveys?", "stages?", "supports?", "edges?", "faces?", "checks?", "checked", "rounds?", "steps?", "turns?", "level",
                  "errors?", "shims?", "bolts?", "settled", "moves?", "made", "taken?", "left", "right", "rise", "slope", "distance", "stations?", "set-ups?",
                  "sheet", "book", "run", "moved", "change", "changed", "days?", "first", "before", "after", "each", "then", "until", "given", "up",
                  "value", "height", "weight", "load", "unlisted", "found", "known", "cannot", "would", "kept", "aside", "undone", "page", "table", "figure"];
const kEnglishWord = new RegExp(`(?<![\\p{L}-])(${kEnglish.join("|")})(?![\\p{L}-])`, "iu");

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

/// What the sheets call things, files, what a seal says to a machine and notes as the book has them stay as they are.
function namesOf(site, {kit}) {
  const sheets = readFileSync(site.run, "utf8") + readFileSync(site.kit, "utf8");
  const written = [...sheets.matchAll(/[=[,]\s*"([^"\n]{3,})"/g)].map(([, name]) => name);
  return ["hangtrue level book seal", "run.toml", "kit.toml", "read by A. Muster", "checked by B. Beispiel", ...kit.instruments.map(({name}) => name), ...written].sort((a, b) => b.length - a.length);
}

/// The lines of a text in which an English word stands that is no name and in no quotes.
function englishLines(text, names) {
  return text.replace(/„[^“]*“/g, "").split("\n").map(line => line.trim()).filter(line => {
    let rest = line.replace(/"[^"]*"/g, "");
    for (const name of names) rest = rest.replaceAll(name, "");
    return kEnglishWord.test(rest);
  });
}

/// What stands on the page but warnings, each text by itself, and what is told to those who hear it.
function everyText(page) {
  return page.evaluate(() => {
    const found = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) if (!walker.currentNode.parentElement.closest("script, noscript, style, .warnings")) found.push(walker.currentNode.textContent.trim());
    for (const each of document.querySelectorAll("[aria-label]")) found.push(each.getAttribute("aria-label"));
    return found.filter(Boolean).join("\n");
  });
}

/// A print of the page, as text.
async function printed(site, path) {
  const answer = await fetch(new URL(`/print/${path}.pdf`, site.url)), pdf = Buffer.from(await answer.arrayBuffer());
  assert.match(pdf.toString("latin1"), /\/Lang \(de\)/, path);
  const {stdout, stderr} = spawnSync("pdftotext", ["-layout", "-", "-"], {input: pdf, encoding: "utf8"});
  assert.equal(stderr, "");
  return stdout;
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
  for (const [place, text] of words(texts)) assert.deepEqual(englishLines(text, []), [], place);
  const site = await Site.begin(t, {seed: 3, change: text => (text.includes("[tolerance]") ? inGerman(text) : text)});
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url, kSmall);
  await connected(page);
  assert.equal(phone.topics.job.language, "de");
  assert.equal(await page.evaluate(() => document.documentElement.lang), "de");
  const names = namesOf(site, phone.topics);
  const lookAt = async where => {
    for (const view of kViews) {
      await goTo(page, view);
      assert.equal(await page.title(), texts.titleOf(texts.views[view]));
      await picture(page, `german ${where} ${view}`, [[360, 640], [820, 1180]]);
      await page.setViewportSize(kSmall);
      // Drawings take the new width some frames later.
      await until(async () => (await overflow(page)).length === 0, "", 10_000).catch(async () => assert.deepEqual(await overflow(page), [], `${where}: ${view}`));
      assert.deepEqual(await smallTargets(page), [], `${where}: ${view}`);
      assert.deepEqual(englishLines(await everyText(page), names), [], `${where}: ${view}`);
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

  // Its print, and the record: in German, with the persons, and tagged with their language.
  const survey = phone.topics.work.survey, card = await printed(site, `card/${survey}`), record = await printed(site, `record/${survey}`);
  for (const said of ["Montagekarte", "Dürfen die Schrauben endgültig festgezogen werden?", "VORSICHT", "Gemessen von", "A. Muster", "Zweite Person", "B. Beispiel",
                      "Rohmontage", "linke Kante", "Form, nicht Festigkeit"])
    assert.ok(card.includes(said), `${said}\n${card}`);
  for (const said of ["Aufmaßprotokoll", "Was die Halterungen tragen", "Jeder Messwert", "Unsicherheit"]) assert.ok(record.includes(said), `${said}\n${record}`);
  for (const text of [card, record]) assert.deepEqual(englishLines(text, names), []);

  // What is refused is refused in German.
  for (const command of ["station 99000 mm", "station 99", "made 77", "not made 1", "recheck 17", "give up", "next", "keep", "watch off", "stage nowhere",
                         "set aside 99999 once more", "check datum 0 mm to 1 mm"]) {
    const {done, words} = await phone.ask(command);
    assert.ok(!done, command);
    assert.deepEqual(englishLines(words, [...names, "nowhere"]), [], command);
  }

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

test("guided checks and what moved, in German", {timeout: 900_000}, async t => {
  speak("de");
  t.after(() => speak("en"));
  const site = await Site.begin(t, {seed: 7, change: text => (text.includes("[tolerance]") ? inGerman(text) : text)});
  let phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url, kSmall);
  await connected(page);
  const names = namesOf(site, phone.topics);
  const isGerman = async where => assert.deepEqual(englishLines(await everyText(page), names), [], where);

  // A zero check from its first step to what it found.
  const level = phone.topics.kit.instruments.find(({can_zero}) => can_zero).name;
  await goTo(page, "kit");
  let answer = await phone.ask(`check zero ${level}`);
  assert.ok(answer.done, answer.words);
  assert.match(answer.words, /^Schritt 1 von /);
  const at = phone.topics.job.stations[1].at;
  for (let guide; (guide = phone.topics.kit.check) && !guide.in_doubt;) {
    assert.deepEqual(englishLines(guide.instruction, names), [], `step ${guide.step}`);
    await isGerman(`zero check, step ${guide.step}`);
    if (guide.step === 1) await picture(page, "german zero check", [[360, 640]]);
    await site.put(`${at} face ${guide.step % 2 === 1 ? 1 : 2}`);
    answer = await phone.ask("next");
    assert.deepEqual(englishLines(answer.words, names), [], `step ${guide.step}`);
    assert.ok(answer.done, answer.words);
    await phone.until(({kit}) => kit.check?.step !== guide.step || kit.check.in_doubt, "the next step");
  }
  await isGerman("after the zero check");

  await readAll(site, phone);
  site.daemon.say("done");
  await site.event(({event}) => event === "done", "that the survey is closed");
  await site.control("move east rod -0.0008 0 0");
  await site.startDaemon();
  phone = await Phone.connect(t, site.url);
  page = await openPage(t, browser, site.url, kSmall);
  await connected(page);
  await isGerman("started anew");
  await readAll(site, phone);
  answer = await phone.ask("recheck 1");
  assert.ok(answer.done, answer.words);
  assert.deepEqual(englishLines(answer.words, names), []);
  await phone.until(({recheck}) => recheck.answer === "moved", "that something moved");
  await page.goto(new URL("#recheck", site.url).href);
  await page.locator('[data-view="recheck"]').waitFor();
  for (const summary of await page.locator("summary").all()) await summary.click();
  await isGerman("what moved");
  await picture(page, "german recheck", [[360, 640], [820, 1180]]);
  await page.setViewportSize(kSmall);
  await until(async () => (await overflow(page)).length === 0, "", 10_000).catch(async () => assert.deepEqual(await overflow(page), [], "what moved"));
  assert.deepEqual(await smallTargets(page), []);
  const report = await printed(site, "recheck/1/2");
  for (const said of ["Nachmessung", "Was sich bewegt hat", "Was der Vergleich voraussetzt", "VORSICHT"]) assert.ok(report.includes(said), `${said}\n${report}`);
  assert.deepEqual(englishLines(report, names), []);
  assertNoFaults(page);
});

test("the page on which a phone is paired, in German", async t => {
  const site = await Site.begin(t, {seed: 3, address: "0.0.0.0:0", change: text => (text.includes("[tolerance]") ? inGerman(text) : text)});
  const asked = await fetch(new URL("/", site.url)), html = await asked.text();
  assert.match(html, /lang="de"/);
  assert.ok(html.includes("Dieses Telefon koppeln"), html);
  const wrong = await (await fetch(new URL("/pair", site.url), {method: "POST", headers: {Origin: new URL(site.url).origin}, body: new URLSearchParams({code: "1"})})).text();
  for (const each of [html, wrong]) assert.deepEqual(englishLines(each.replace(/<style>.*?<\/style>|<[^>]*>/gs, "\n"), ["hangtrue"]), []);
});
