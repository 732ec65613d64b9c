// A small phone in gloves, upright and on its side: what the instruments read is in sight without scrolling, nothing that was read
// is cut, the chosen face can be read, and what was pressed does not throw the page back to its top but says what it did.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertNoFaults, button, connected, goTo, openBrowser, openPage, region} from "./support/browser.mjs";
import {texts} from "./support/packages.mjs";
import {Phone, makeMove, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {until} from "./support/waiting.mjs";

const kSmall = [[360, 640], [640, 360], [390, 844]];
let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

/// Values of walking instruments that are not in sight though nothing is scrolled, in words.
const hidden = page => page.evaluate(() => {
  const main = document.querySelector("main"), box = main.getBoundingClientRect();
  main.scrollTop = 0;
  return [...document.querySelectorAll(".level-part .number")].map(each => [each.textContent, each.getBoundingClientRect()])
      .filter(([, at]) => at.bottom > box.bottom + 0.5 || at.top < box.top - 0.5 || at.right > box.right + 0.5)
      .map(([words, at]) => `${words}: ${at.top} to ${at.bottom} in ${box.top} to ${box.bottom}`);
});

/// What of the dock's last line is not in sight, px.
const cut = page => page.evaluate(() => {
  const line = document.querySelector(".dock .last p"), box = line.getBoundingClientRect(), below = document.querySelector(".below").getBoundingClientRect();
  return Math.max(0, line.scrollHeight - line.clientHeight, line.scrollWidth - line.clientWidth, box.bottom - below.bottom);
});

/// px between the chosen face's words and the bar that marks it, or the key's edge.
const faceRoom = page => page.evaluate(() => {
  const key = document.querySelector(".place .keys [aria-pressed=true]"), range = document.createRange();
  range.selectNodeContents(key);
  const words = range.getBoundingClientRect(), box = key.getBoundingClientRect();
  return Math.min(box.bottom - 9 - words.bottom, words.top - box.top, words.left - box.left, box.right - words.right);
});

async function seen(page, where) {
  for (const [width, height] of kSmall) {
    await page.setViewportSize({width, height});
    // The layout takes its new width some frames later.
    for (const [what, measure] of [["hidden", hidden], ["cut", cut]])
      await until(async () => [measure === cut ? 0 : "[]"].includes(measure === cut ? await measure(page) : JSON.stringify(await measure(page))), "", 5_000)
          .catch(async () => assert.fail(`${where}, ${width} x ${height}, ${what}: ${JSON.stringify(await measure(page))}`));
    assert.ok(await faceRoom(page) >= 0, `${where}, ${width} x ${height}: the face's digit has ${await faceRoom(page)} px`);
  }
}

for (const sheets of ["metric", "imperial"])
  test(`values are in sight, and what was taken last is whole, ${sheets}`, {timeout: 600_000}, async t => {
    const site = await Site.begin(t, {sheets});
    const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
    await connected(page);
    const {at} = phone.topics.job.stations[2];
    await site.put(`${at} face 1`);
    await phone.do("station 3");
    await region(page, texts.now.level).getByText(texts.now.uncorrected).waitFor();
    await seen(page, "before the first take");
    await phone.do("take");
    await page.getByRole("button", {name: texts.next.turned(2)}).waitFor();
    await seen(page, "turn it round");
    await site.put(`${at} face 2`);
    await phone.do("face 2", "take");
    await page.getByRole("button", {name: /^Go to /}).waitFor();
    await seen(page, "go on");
    const {last, last_place, readings} = phone.topics.readings;
    assert.equal(last_place, `${at}, face 2`);
    for (const name of ["walking inclinometer", "laser distance meter"]) assert.ok(last.includes(name), last);
    assert.match(last, /slope [+-]/);
    assert.ok(readings.length >= 6);
    await button(region(page, texts.now.dock), texts.now.undo).tap();
    await region(page, texts.now.dock).getByText(new RegExp(`^Undone: ${last_place}\\.`)).waitFor();
    await seen(page, "undone");
    assertNoFaults(page);
  });

test("begin, ticks and their undoing stay where they are, and say what was done", {timeout: 600_000}, async t => {
  const site = await Site.begin(t, {seed: 3});
  const phone = await Phone.connect(t, site.url);
  await readAll(site, phone);
  const page = await openPage(t, browser, site.url, {path: "/#card", width: 360, height: 640});
  await connected(page);
  const main = page.getByRole("main");
  /// Pressed where it is in sight; the page must still be well below its top then, and say so.
  const press = async (name, says) => {
    const key = button(main, name);
    await key.waitFor();
    await until(async () => (await key.getAttribute("aria-disabled")) !== "true", `${name} is not off`);
    await key.scrollIntoViewIfNeeded();
    const top = () => main.evaluate(node => node.scrollTop), before = await top();
    assert.ok(before > 300, `${name} is far down: ${before}`);
    await key.tap();
    await page.getByText(says, {exact: true}).waitFor();
    await page.waitForTimeout(300);
    assert.ok(await top() > 0.5 * before, `${name}: from ${before} to ${await top()}`);
    const box = await page.getByText(says, {exact: true}).boundingBox();
    assert.ok(box.height >= 16 && box.y + box.height <= 640, JSON.stringify(box));
  };
  await press(texts.card.begin, texts.done("begin moves", ""));
  const [{order}] = phone.topics.card.moves;
  await press(texts.card.made(order), texts.done(`made ${order}`, ""));
  await button(main, texts.card.previous).tap();
  await press(texts.card.notMade(order), texts.done(`not made ${order}`, ""));
  assert.match(texts.done(`not made ${order}`, ""), /^Undone: move 1\.$/);
  await makeMove(site, phone, order);
  assertNoFaults(page);
});

test("instruments that stay show their last minute, and a step on the run as unrest", {timeout: 300_000}, async t => {
  const site = await Site.begin(t);
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  const stay = region(page, texts.now.staying);
  await phone.until(({live}) => live.instruments[1].channels.filter(each => each.stays_at_m !== null).every(each => each.settled), "that it is still");
  for (const gives of ["slope", "roll"]) await stay.getByRole("img", {name: texts.now.trend(texts.gives[gives])}).waitFor();
  const range = () => stay.locator(".trend-line").first().evaluate(node => node.getBBox().height);
  await until(async () => await stay.locator(".trend-unrest").count() === 0, "rest");
  assert.ok(await range() < 12, `a line that is still: ${await range()}`);
  const [support] = phone.topics.work.supports;
  for (const rise_m of [0.004, -0.004]) await site.control(`move ${support} ${rise_m} 0 0.004`);
  await site.control(`move ${support} 0.004 0 0.004`);
  await stay.getByText(texts.now.unrest).first().waitFor();
  await until(async () => await range() > 20, "a step in the line");
  assertNoFaults(page);
});
