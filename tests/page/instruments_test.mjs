// Instruments as a person at the page has them: one that loses its plug, and the guided checks.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertNoFaults, button, connected, goTo, openBrowser, openPage, region} from "./support/browser.mjs";
import {texts} from "./support/packages.mjs";
import {Phone} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {until} from "./support/waiting.mjs";

let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

const kWalking = "walking inclinometer", kLaser = "laser distance meter";
const live = (phone, name) => phone.topics.live.instruments.find(each => each.name === name);
const article = (page, name) => page.getByRole("article").filter({has: page.getByRole("heading", {name, exact: true})});

test("an instrument that is unplugged is said, and comes back by itself", async t => {
  const site = await Site.begin(t);
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  const kit = await openPage(t, browser, site.url, {path: "/#kit"});
  for (const each of [page, kit]) await connected(each);
  await phone.until(() => live(phone, kWalking).speaks, "its first values");

  await site.control(`unplug ${kWalking}`);
  // Its sentence may still change (the line hangs up, then is not there): what stands on the page is what is so now.
  let words = "";
  await until(async () => {
    const {speaks, state, says} = live(phone, kWalking);
    words = `${state}: ${says}`;
    return !speaks && (await region(page, texts.now.level).getByText(words, {exact: true}).count()) > 0
        && (await article(kit, kWalking).getByText(words, {exact: true}).count()) > 0;
  }, "that it is said on both pages");
  assert.match(words, /: .{10,}/);

  await site.control(`plug in ${kWalking}`);
  await phone.until(() => live(phone, kWalking).speaks && live(phone, kWalking).state === "well", "that it is back");
  await until(async () => (await region(page, texts.now.level).getByText(words, {exact: true}).count()) === 0, "no word of it any more");
  await article(kit, kWalking).getByText("well: ", {exact: false}).waitFor();
  for (const each of [page, kit]) assertNoFaults(each);
});

/// Steps of the check that the Kit view shows, each done as its instruction says, until it has ended.
async function followSteps(site, phone, page, put) {
  await phone.until(({kit}) => kit.check, "a check");
  for (let step = 1; phone.topics.kit.check && !phone.topics.kit.check.in_doubt; ++step) {
    const {instruction, steps} = await phone.until(({kit}) => kit.check?.step === step && kit.check, `step ${step}`);
    await page.getByText(instruction, {exact: true}).waitFor();
    await page.getByText(texts.kit.step(step, steps), {exact: true}).waitFor();
    await site.put(put(instruction));
    await button(page, texts.kit.next).click();
    await phone.until(({kit}) => kit.check?.step !== step || kit.check.in_doubt, `the end of step ${step}`);
  }
  if (!phone.topics.kit.check) return;
  await button(page, texts.kit.keep).click();
  await phone.until(({kit}) => !kit.check, "that it is kept");
}

test("the guided zero check, step by step, counts from then on", {timeout: 300_000}, async t => {
  const site = await Site.begin(t);
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  await goTo(page, "kit");
  await article(page, kWalking).getByText(texts.kit.noChecks, {exact: true}).waitFor();
  await button(page, texts.kit.checkZero(kWalking)).click();
  await followSteps(site, phone, page, instruction => `2100 mm face ${instruction.match(/face ([12]):/)[1]}`);

  const checked = await phone.until(({kit}) => kit.instruments.find(each => each.name === kWalking && each.checks.length > 0), "a check in the book");
  for (const sentence of checked.checks) await article(page, kWalking).getByText(sentence, {exact: true}).waitFor();
  const found = site.hangtrueJson("export", site.book, "--survey", "1").checks.filter(each => each.instrument === kWalking);
  assert.deepEqual(found.map(({kind}) => kind), ["zero check", "zero check"]);  // slope and roll
  assertNoFaults(page);
});

test("the guided datum check, and giving one up", {timeout: 300_000}, async t => {
  const site = await Site.begin(t);
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  await goTo(page, "kit");
  const begin = async () => {
    await button(page, texts.kit.checkDatum(kLaser)).click();
    const dialog = page.getByRole("dialog", {name: texts.kit.checkDatum(kLaser)});
    await dialog.getByRole("combobox", {name: texts.kit.near}).selectOption("0 mm");
    await dialog.getByRole("combobox", {name: texts.kit.far}).selectOption("3500 mm");
    await button(dialog, texts.kit.begin).click();
  };
  await begin();
  await phone.until(({kit}) => kit.check, "a check");
  await button(page, texts.kit.giveUp).click();
  await phone.until(({kit}) => !kit.check, "no check");

  await begin();
  await followSteps(site, phone, page, instruction => `${instruction.match(/read at (.+?)(?: and mark|, on the mark)/)[1]} set-up ${instruction.match(/set-up (\d)/)[1]}`);
  const found = site.hangtrueJson("export", site.book, "--survey", "1").checks;
  assert.deepEqual(found.map(({kind, instrument}) => [kind, instrument]), [["datum check", kLaser]]);
  assertNoFaults(page);
});

test("the guided scale check, by a piece under one foot and then the other", {timeout: 300_000}, async t => {
  const site = await Site.begin(t);
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  await goTo(page, "kit");
  await button(page, texts.kit.checkScale(kWalking)).click();
  const dialog = page.getByRole("dialog", {name: texts.kit.checkScale(kWalking)});
  await dialog.getByRole("textbox", {name: texts.kit.piece}).fill("3 mm");
  await dialog.getByRole("textbox", {name: texts.kit.feetAcross}).fill("120 mm");
  await button(dialog, texts.kit.begin).click();
  await followSteps(site, phone, page, instruction => `2100 mm face 1${
    /under the foot nearer to the END/.test(instruction) ? " under-end 0.003 feet 0.12" : /LEFT edge/.test(instruction) ? " under-left 0.003 feet 0.12" : ""}`);

  const checked = await phone.until(({kit}) => kit.instruments.find(each => each.name === kWalking && each.checks.length > 0), "a check in the book");
  for (const sentence of checked.checks) await article(page, kWalking).getByText(sentence, {exact: true}).waitFor();
  const found = site.hangtrueJson("export", site.book, "--survey", "1").checks.filter(each => each.kind === "scale check");
  assert.deepEqual(found.map(({channel, sound}) => [channel, sound]), [["slope", true], ["roll", true]]);
  assertNoFaults(page);
});
