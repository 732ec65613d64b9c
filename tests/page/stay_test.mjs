// hangtrue rehearse --stay: the daemon with its page, and instruments that go where the page says; moves that are made there
// really move the run.
import assert from "node:assert/strict";
import {spawnSync} from "node:child_process";
import {mkdtempSync, rmSync} from "node:fs";
import {tmpdir} from "node:os";
import {join} from "node:path";
import {test} from "node:test";

import {command} from "./support/packages.mjs";
import {Phone} from "./support/phone.mjs";
import {Program, writeSheet} from "./support/site.mjs";

async function begin(t, ...words) {
  const directory = mkdtempSync(join(tmpdir(), "hangtrue-stay-test-")), book = join(directory, "job.levelbook");
  const [run, kit] = ["run", "kit"].map(kind => writeSheet(directory, "metric", kind));
  const rehearsal = new Program(command, ["rehearse", run, kit, "--stay", "--page", "127.0.0.1:0", "--seed", "3", "--rate", "100", "--no-faults",
                                          "--stage", "second bolted", "--book", book, ...words]);
  t.after(async () => {
    await rehearsal.part();
    rmSync(directory, {recursive: true, force: true});
  });
  const line = await rehearsal.line(each => /page http/.test(each), "the address of the page");
  return {rehearsal, book, url: /http\S+/.exec(line)[0]};
}

async function readAll(phone) {
  for (const {number} of phone.topics.job.stations)
    for (const command of [`station ${number}`, "face 1", "take", "face 2", "take"]) {
      const {done, words} = await phone.ask(command);
      assert.ok(done, `${command}: ${words}`);
    }
}

test("the whole job with rehearsed instruments that do what the page says, ended by Enter", {timeout: 600_000}, async t => {
  const {rehearsal, book, url} = await begin(t, "--no-walk");
  const phone = await Phone.connect(t, url);
  await readAll(phone);
  assert.equal(phone.topics.card.hold_point, "shim first", phone.topics.card.reason);
  assert.ok((await phone.ask("begin moves")).done);
  for (const {order, support} of phone.topics.card.moves) {
    assert.ok((await phone.ask(`made ${order}`)).done);
    await rehearsal.line(each => each.includes(`the ${support} was moved`), `that the ${support} was moved`);
  }
  assert.ok((await phone.ask("read again")).done);
  await readAll(phone);
  const compared = await phone.until(({card}) => card.compared, "a comparison");
  assert.ok(compared.agrees, compared.words);

  rehearsal.say("");
  assert.deepEqual(await rehearsal.end, {code: 0, signal: null});
  await phone.gone;
  assert.equal(spawnSync(command, ["audit", book]).status, 0);
});

test("after the walk the card is there, and the end of input ends it", {timeout: 600_000}, async t => {
  const {rehearsal, url} = await begin(t);
  assert.ok(rehearsal.lines.some(each => /level error, finished, after the card/.test(each)), "the truth beside the card");
  const phone = await Phone.connect(t, url);
  assert.equal(phone.topics.card.hold_point, "shim first");
  assert.ok(phone.topics.readings.readings.length > 40);
  rehearsal.child.stdin.end();
  assert.deepEqual(await rehearsal.end, {code: 0, signal: null});
});
