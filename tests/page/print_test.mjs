// Documents from the page's own address: card, record and recheck as PDF, while the daemon writes in the book; and why there is none.
import assert from "node:assert/strict";
import {test} from "node:test";

import {Phone, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";

async function got(site, path) {
  const response = await fetch(new URL(path, site.url)), bytes = Buffer.from(await response.arrayBuffer());
  return {status: response.status, type: response.headers.get("content-type"), name: response.headers.get("content-disposition"), bytes, text: bytes.toString("latin1")};
}

test("card, record and recheck as PDF to keep", {timeout: 300_000}, async t => {
  const site = await Site.begin(t, {seed: 3});
  const phone = await Phone.connect(t, site.url);
  await readAll(site, phone);
  for (const [path, name] of [["/print/card/1.pdf", "card-1.pdf"], ["/print/record/1.pdf", "record-1.pdf"]]) {
    const {status, type, name: kept, text} = await got(site, path);
    assert.equal(status, 200, text.slice(0, 300));
    assert.equal(type, "application/pdf");
    assert.equal(kept, `attachment; filename="${name}"`);
    assert.match(text, /^%PDF-1\.\d[^]*%%EOF\s*$/);
  }
  // What was read since is in it: the book is written meanwhile.
  const {bytes: before} = await got(site, "/print/record/1.pdf");
  assert.ok((await phone.ask("undo")).done);
  const {bytes: after} = await got(site, "/print/record/1.pdf");
  assert.ok(!before.equals(after));

  const none = await got(site, "/print/record/nine.pdf");
  assert.equal(none.status, 503);
  assert.match(none.text, /nine/);
  assert.equal((await got(site, "/print/record/.pdf")).status, 404);

  site.daemon.say("done");
  await site.event(({event}) => event === "done", "that the survey is closed");
  await site.startDaemon();
  const again = await Phone.connect(t, site.url);
  await readAll(site, again);
  const {status, text} = await got(site, "/print/recheck/1/2.pdf");
  assert.equal(status, 200, text.slice(0, 300));
  assert.match(text, /^%PDF-/);
});
