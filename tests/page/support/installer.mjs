// installer.mjs: a person at the page with instruments in hand, who does the whole job; by touch, or by keyboard alone.
import assert from "node:assert/strict";

import {button, goTo, region} from "./browser.mjs";
import {texts} from "./packages.mjs";
import {until} from "./waiting.mjs";

const kMostTabs = 400;

/// As a person: a finger. Like the keyboard below it waits while the button is off, as one that has just become another is.
const touch = {
  press: locator => locator.tap(),
};

/// As a person without one: Tab until it has the focus, then Enter.
const keys = {
  async press(locator) {
    await locator.waitFor();
    await until(async () => (await locator.getAttribute("aria-disabled")) !== "true", `${locator} is not off`);
    const page = locator.page();
    for (let tabs = 0; tabs < kMostTabs; ++tabs) {
      if (await locator.evaluate(node => node === document.activeElement)) return page.keyboard.press("Enter");
      await page.keyboard.press("Tab");
    }
    throw new Error(`Tab does not reach ${locator}`);
  },
};

export class Installer {
  /// `phone`: a Phone that sees what everybody sees; to know what there is, never to act.
  constructor(site, page, phone, {byKeys = false} = {}) {
    Object.assign(this, {site, page, phone, press: (byKeys ? keys : touch).press});
  }

  async view(name) {
    await this.press(this.page.getByRole("navigation", {name: texts.nav}).getByRole("link", {name: texts.views[name], exact: true}));
    await this.page.locator(`[data-view="${name}"]`).waitFor();
  }

  /// Puts the instruments there, then says so on the page.
  async standAt(station, face) {
    const {at} = this.phone.topics.job.stations[station - 1];
    await this.site.put(`${at} face ${face}`);
    const work = () => this.phone.topics.work;
    if (work().station !== station) {
      const next = work().station !== null && work().station + 1 === station;
      if (next) {
        await this.press(button(this.page, texts.now.nextStation));
      } else {
        await this.press(this.page.getByRole("button", {name: new RegExp(`, ${texts.now.choose}$`)}));
        await this.press(this.page.getByRole("dialog", {name: texts.now.stations}).getByRole("button", {name: new RegExp(`^${at} `)}));
      }
      await this.phone.until(({work}) => work.station === station, `station ${station}`);
    }
    const signed = face === 1 ? 1 : -1;
    if (work().face !== signed) {
      await this.press(button(this.page, face === 1 ? texts.now.face1 : texts.now.face2));
      await this.phone.until(({work}) => work.face === signed, `face ${face}`);
    }
  }

  dock() {
    return region(this.page, texts.now.dock);
  }

  /// The large button; returns when the readings are in the book and on the page.
  async take() {
    const {readings, work} = this.phone.topics, before = readings.readings.length;
    await this.press(this.dock().getByRole("button", {name: /^Take/}));
    await this.phone.until(({readings, work}) => readings.readings.length > before && !work.doing, `readings at station ${work.station}`);
    const {last} = this.phone.topics.readings;
    await this.dock().getByText(last, {exact: true}).waitFor();
    return last;
  }

  async undo() {
    const kept = () => this.phone.topics.readings.readings.filter(each => each.kept).length, before = kept();
    await this.press(button(this.dock(), texts.now.undo));
    await this.phone.until(() => kept() < before, "fewer readings");
  }

  /// Every station on both faces, there and back face by face as one walks.
  async readAll() {
    for (let station = 1; station <= this.phone.topics.job.stations.length; ++station) {
      const faces = this.phone.topics.work.face === 1 ? [1, 2] : [2, 1];
      for (const face of faces) {
        await this.standAt(station, face);
        await this.take();
      }
    }
  }

  /// All moves of the card that can be made now, ticked one by one, and really made. How many.
  /// `watched`: the one whose best place to stand is told is made under watch, at half of which another bracket gives.
  async makeMoves({watched = false, seen = () => undefined} = {}) {
    await this.view("card");
    await this.press(button(this.page, texts.card.begin));
    await this.phone.until(({card}) => card.begun, "that the moves begin");
    const moves = () => this.phone.topics.card.moves.filter(each => !each.when_stage);
    let made = 0;
    for (const {order, support} of moves()) {
      if (watched && this.phone.topics.card.stand?.order === order) {
        await this.watchMove(moves().find(each => each.order === order), seen);
        await this.press(button(this.page, texts.card.made(order)));
        await this.phone.until(() => moves().find(each => each.order === order)?.made, `move ${order} ticked`);
        ++made;
        continue;
      }
      const from = this.site.daemon.lines.length;
      await this.press(button(this.page, texts.card.made(order)));
      const move = await this.site.event(({event}) => event === "made", `that move ${order} is made`, from);
      assert.equal(move.support, support);
      assert.equal(move.made, true);
      await this.site.control(`move ${support} ${move.rise_m} ${move.pitch_rad} ${move.roll_rad}`);
      await this.phone.until(() => moves().find(each => each.order === order)?.made, `move ${order} ticked`);
      ++made;
    }
    return made;
  }

  /// A move under watch, as the page leads through it: where to stand, half of the way, a bracket that gives, "stop", that bracket
  /// set back, the rest. The page alone is gone by; `seen`: what to look at, with its name.
  async watchMove(move, seen) {
    const {page, phone, site} = this, {stand} = phone.topics.card, face = phone.topics.work.face === 1 ? 1 : 2;
    const watched = region(page, texts.watch.name), step = share => site.control(`move ${move.support} ${share * move.rise_m} ${share * move.pitch_rad} ${share * move.roll_rad}`);
    await site.put(`${stand.at} face ${face}`);
    if (phone.topics.work.station !== stand.station) {
      await this.press(button(page.getByRole("main"), texts.now.goTo(stand.at)));
      await phone.until(({work}) => work.station === stand.station, "that it stands there");
    }
    await seen("where to stand");
    // Refused until all has settled, in words.
    await until(async () => {
      if (await button(page, texts.dismiss).count() > 0) await this.press(button(page, texts.dismiss));
      await phone.until(({live}) => live.instruments.every(each => each.channels.every(channel => channel.gives === "temperature" || channel.settled)), "settled");
      await this.press(button(page, texts.watch.begin(move.order)));
      return until(async () => phone.topics.watch?.what || await button(page, texts.dismiss).count() > 0, "an answer").then(() => phone.topics.watch?.what);
    }, "that it is watched");
    await step(0.5);
    await until(async () => Math.abs(await watched.getByRole("progressbar").evaluate(node => node.value) - 0.5) < 0.15, "half of the way");
    await seen("half of the way");
    const other = phone.topics.job.supports.find(each => each.name !== move.support && phone.topics.work.supports.includes(each.name));
    await site.control(`move ${other.name} -0.003 0 0.002`);
    await watched.getByRole("alert").getByText(/stop/i).waitFor();
    // In sight, without scrolling; also where the card is scrolled away from it, and in another view.
    const stop = async words => {
      const box = await words.boundingBox(), {height} = page.viewportSize();
      assert.ok(box && box.y >= 0 && box.y < height - 60, JSON.stringify(box));
    };
    await until(async () => (await watched.getByRole("alert").boundingBox()).y < page.viewportSize().height - 60, "stop in sight");
    await stop(watched.getByRole("alert"));
    const bar = page.getByRole("link", {name: /^stop/i});
    await stop(bar);
    await this.view("run");
    await stop(bar);
    await this.press(bar);
    await page.locator('[data-view="now"]').waitFor();
    await stop(watched.getByRole("alert"));
    await seen("a bracket gives, on Now");
    await this.view("card");
    await seen("a bracket gives");
    await site.control(`move ${other.name} 0.003 0 -0.002`);
    await step(0.5);
    await phone.until(({watch}) => watch.verdict === "done", "that it is done");
    await watched.getByText(phone.topics.watch.says).waitFor();
    await watched.getByText(texts.watch.stopWasSaid).waitFor();
    await seen("done, and stop was said");
  }

  /// A button that asks again in a dialog of its name.
  async confirm(name) {
    await this.press(button(this.page.getByRole("main"), name));
    await this.press(button(this.page.getByRole("dialog", {name}), name));
  }

  async readAgain() {
    const {survey} = this.phone.topics.work;
    await this.confirm(texts.card.readAgain);
    await this.phone.until(({work}) => work.survey !== survey, "a new survey");
  }

  async seal() {
    await this.view("record");
    const before = this.phone.topics.record.seals.length;
    await this.confirm(texts.record.seal);
    await this.phone.until(({record}) => record.seals.length > before, "a seal");
    const {number, code} = this.phone.topics.record.seals[0];
    await this.page.getByText(`${number} ${code}`, {exact: true}).waitFor();
    return `${number} ${code}`;
  }
}
