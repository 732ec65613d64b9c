// phone.mjs: a phone without a browser: the page's WebSocket, its topics and its commands.
import {once} from "node:events";

import {WebSocket} from "./packages.mjs";
import {until, within} from "./waiting.mjs";

export class Phone {
  static async connect(t, url, headers = {}) {
    const phone = new Phone();
    const live = new URL("/live", url);
    live.protocol = "ws:";
    phone.topics = {};
    phone.answers = new Map();
    phone.frames = 0;
    phone.lastId = 0;
    phone.socket = new WebSocket(live, {headers: {Origin: new URL(url).origin, ...headers}, perMessageDeflate: false});
    phone.gone = new Promise(resolve => phone.socket.on("close", resolve));
    t.after(() => phone.socket.terminate());
    phone.socket.on("message", data => {
      const {answer, ...topics} = JSON.parse(data);
      Object.assign(phone.topics, topics);
      if (answer) phone.answers.set(answer.id, answer);
      ++phone.frames;
    });
    await within(once(phone.socket, "open"), "a connection to /live");
    await phone.until(({job, work, live}) => job && work && live, "the first topics");
    return phone;
  }

  until(is, what) {
    return until(() => is(this.topics), what);
  }

  /// Its answer. `seen`: the revision that this person saw, the latest unless given.
  async ask(command, seen = this.topics.work.revision) {
    const id = ++this.lastId;
    this.socket.send(JSON.stringify({id, command, seen}));
    return until(() => this.answers.get(id), `an answer to "${command}"`);
  }

  /// Each of them is done, or the test ends with what was said.
  async do(...commands) {
    for (const command of commands) {
      const {done, words} = await this.ask(command);
      if (!done) throw new Error(`${command}: ${words}`);
    }
  }
}

/// Every station on both faces, as fast as the instruments settle; by a phone without a browser.
export async function readAll(site, phone) {
  for (const {number, at} of phone.topics.job.stations)
    for (const face of [1, 2]) {
      await site.put(`${at} face ${face}`);
      await phone.do(`station ${number}`, `face ${face}`, "take");
    }
}

/// A move of the card that was begun, ticked and really made.
export async function makeMove(site, phone, order) {
  const from = site.daemon.lines.length;
  await phone.do(`made ${order}`);
  const move = await site.event(({event}) => event === "made", "a move", from);
  await site.control(`move ${move.support} ${move.rise_m} ${move.pitch_rad} ${move.roll_rad}`);
}
