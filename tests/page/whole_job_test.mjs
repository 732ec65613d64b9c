// The whole job at the page, on a phone's screen by touch and with the keyboard alone; then what the level book says of it.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertAccessible, assertNoFaults, connected, faintText, openBrowser, openPage, overflow, picture, programWords, region,
        smallTargets} from "./support/browser.mjs";
import {Installer} from "./support/installer.mjs";
import {texts} from "./support/packages.mjs";
import {Phone, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";

const kLongest = 900_000;
let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

/// `watched`: the first move is made under watch, and a bracket gives meanwhile; then the readings are taken without a browser.
async function wholeJob(t, {sheets, byKeys = false, watched = false, screen = {}}) {
  const site = await Site.begin(t, {sheets, seed: 3});  // of which the card wants two moves
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url, screen);
  const installer = new Installer(site, page, phone, {byKeys});
  await connected(page);
  const stations = phone.topics.job.stations.length;

  await installer.standAt(2, 1);
  const wrong = await installer.take();
  await installer.undo();
  const setAside = phone.topics.readings.readings.filter(each => !each.kept).map(each => each.entry);
  assert.ok(setAside.length > 0, wrong);

  const read = () => (watched ? readAll(site, phone) : installer.readAll());
  await read();
  await installer.view("card");
  const {card} = phone.topics;
  assert.equal(card.hold_point, "shim first", card.reason);
  assert.equal(await page.getByRole("heading", {level: 1}).innerText(), texts.card.answers["shim first"]);
  await region(page, texts.card.moves).getByText(card.moves_are).waitFor();
  const faults = [];
  const moves = await installer.makeMoves({watched, seen: async where => {
    await picture(page, `${where} ${sheets}`, [[screen.width, screen.height]], [screen.colorScheme]);
    for (const fault of [overflow, smallTargets, faintText, programWords]) faults.push(...(await fault(page)).map(each => `${where}: ${each}`));
    await assertAccessible(page, where);
  }});
  assert.deepEqual(faults, []);
  assert.equal(moves, 2);
  await installer.readAgain();
  await installer.view("now");
  await read();

  await installer.view("card");
  const {compared} = phone.topics.card;
  assert.ok(compared, "what was promised is compared");
  assert.equal(compared.survey, "1");
  await region(page, texts.card.compared).getByText(compared.words).waitFor();
  const seal = await installer.seal();
  assertNoFaults(page);

  // The book: two surveys, the moves in the first, the undone take set aside and still there, whole since the seal.
  const audited = site.hangtrue("audit", site.book, "--seal", seal);
  assert.equal(audited.code, 0, audited.output + audited.errors);
  const {surveys} = site.hangtrueJson("surveys", site.book);
  assert.deepEqual(surveys.map(({stage, closed}) => ({stage, closed})),
                   [{stage: site.stage, closed: true}, {stage: site.stage, closed: false}]);
  const [first, second] = surveys.map(({id}) => site.hangtrueJson("export", site.book, "--survey", id));
  assert.equal(first.moves.length, moves);
  assert.equal(second.moves.length, 0);
  assert.deepEqual(first.readings.filter(each => !each.kept).map(each => each.entry), setAside);
  assert.ok(second.readings.every(each => each.kept));
  for (const {readings} of [first, second]) {
    const kept = readings.filter(each => each.kept);
    for (const instrument of new Set(kept.map(each => each.instrument))) {
      const places = new Map();
      for (const {instrument: by, at_m, face} of kept)
        if (by === instrument) places.set(at_m, [...(places.get(at_m) ?? []), face]);
      assert.equal(places.size, stations, instrument);
      if (instrument.includes("inclinometer"))
        for (const [at_m, faces] of places) assert.deepEqual([...new Set(faces)].sort(), [-1, 1], `${instrument} at ${at_m}`);
    }
  }

  // The rehearsed run was really moved; what the second survey finds is so, within five sigma as the card states it.
  const truth = JSON.parse((await site.control("truth")).slice("truth ".length)).level_error_m;
  const found = site.hangtrueJson("shims", site.run, "--book", site.book, "--survey", surveys[1].id);
  assert.ok(Math.abs(found.level_error_before_m - truth) < 5 * found.level_error_before_sigma_m + 0.02e-3,
            `${found.level_error_before_m} found, ${truth} true, sigma ${found.level_error_before_sigma_m}`);
  assert.ok(compared.agrees, compared.words);
}

test("the whole job by touch on a phone, metric", {timeout: kLongest}, async t => {
  await wholeJob(t, {sheets: "metric", screen: {isMobile: true}});
});

// Of every size, light and dark, in both systems of units.
for (const [width, height, colorScheme, sheets] of [
  [360, 640, "light", "metric"], [390, 844, "dark", "imperial"], [640, 360, "dark", "metric"], [820, 1180, "light", "imperial"]])
  test(`the whole job with a move under watch, and a bracket that gives: ${width} x ${height}, ${colorScheme}, ${sheets}`, {timeout: kLongest}, async t => {
    await wholeJob(t, {sheets, watched: true, screen: {width, height, colorScheme}});
  });

test("the whole job with the keyboard alone, imperial", {timeout: kLongest}, async t => {
  await wholeJob(t, {sheets: "imperial", byKeys: true, screen: {width: 1280, height: 800, hasTouch: false}});
});
