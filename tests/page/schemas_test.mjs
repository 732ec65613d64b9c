// What the daemon tells a page, and what a page asks, is as data/schemas/json says: page-topics, page-asked. The validator is
// Debian's python3-jsonschema.
import assert from "node:assert/strict";
import {spawnSync} from "node:child_process";
import {join} from "node:path";
import {test} from "node:test";

import {data, WebSocket} from "./support/packages.mjs";
import {Phone, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {until} from "./support/waiting.mjs";

const source = process.env.HANGTRUE_SOURCE;

function validated(messages) {
  const {status, stdout, stderr} = spawnSync("/usr/bin/python3", [join(source, "tests", "tools", "validate.py"), join(data, "schemas", "json")],
                                             {encoding: "utf8", input: messages.map(each => JSON.stringify(each)).join("\n"), maxBuffer: 1 << 28});
  return {status, words: stdout + stderr};
}

test("every message of a survey with its card is as the schema says", async t => {
  const site = await Site.begin(t);
  const live = new URL("/live", site.url);
  live.protocol = "ws:";
  const messages = [], told = new Set();
  const listener = new WebSocket(live, {headers: {Origin: new URL(site.url).origin}});
  t.after(() => listener.terminate());
  listener.on("message", frame => {
    const message = JSON.parse(frame);
    Object.keys(message).forEach(topic => told.add(topic));
    messages.push(["page-topics", message]);
  });
  const phone = await Phone.connect(t, site.url);
  phone.socket.on("message", frame => messages.push(["page-topics", JSON.parse(frame)]));  // with the answers to it
  const send = phone.socket.send.bind(phone.socket);
  phone.socket.send = text => (messages.push(["page-asked", JSON.parse(text)]), send(text));
  await readAll(site, phone);
  assert.ok((await phone.ask("card")).words);
  assert.ok((await phone.ask("seal")).done);
  await until(() => told.has("card") && told.has("record"), "the card and the record");
  for (const topic of ["job", "work", "live", "readings", "run", "card", "kit", "record", "clock"])
    assert.ok(told.has(topic), `${topic} was not told: ${[...told].join(", ")}`);
  assert.ok(messages.some(([, {answer}]) => answer));
  const {status, words} = validated(messages);
  assert.equal(status, 0, words);

  // It can fail: a member more, one less, one of another kind.
  const [, job] = messages.find(([, message]) => message.job);
  for (const spoil of [message => (message.job.more = 1), message => delete message.job.stations, message => (message.job.stations = "none")]) {
    const wrong = structuredClone(job);
    spoil(wrong);
    assert.equal(validated([["page-topics", wrong]]).status, 1);
  }
});
