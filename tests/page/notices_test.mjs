// The licences of what is bundled into page.js want their texts delivered with it.
import assert from "node:assert/strict";
import {readFileSync} from "node:fs";
import {join} from "node:path";
import {test} from "node:test";

import {data} from "./support/packages.mjs";
import {Site} from "./support/site.mjs";

test("page.js as it is served, and data/licences.md, hold the notice of every package that is bundled", async t => {
  const site = await Site.begin(t);
  const answer = await fetch(new URL("/page.js", site.url));
  assert.equal(answer.status, 200);
  const served = await answer.text(), listed = readFileSync(join(data, "licences.md"), "utf8");
  const made = process.env.HANGTRUE_PAGE_PACKAGES, {packages} = JSON.parse(readFileSync(join(made, "package-lock.json"), "utf8"));
  const bundled = Object.keys(packages).filter(place => place !== "" && !packages[place].dev);
  assert.ok(bundled.includes("node_modules/preact"), `preact is bundled: ${bundled}`);
  for (const place of bundled) {
    const notice = readFileSync(join(made, place, "LICENSE"), "utf8").trim();
    assert.ok(served.includes(notice), `page.js has no notice of ${place}`);
    assert.ok(listed.includes(notice), `data/licences.md has no notice of ${place}`);
    assert.ok(listed.includes(`${place.replace("node_modules/", "")} (${packages[place].license})`), `data/licences.md names no licence of ${place}`);
  }
});
