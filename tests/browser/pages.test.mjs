// Every page of reports/demo, and the same pages in US units where the program is at hand.
import assert from 'node:assert/strict';
import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { launch, open } from './browser.mjs';
import { DESK, MOST_BYTES, PHONE, markupFindings, screenFindings } from './checks.mjs';
import { demoPages } from './program.mjs';
import { sheets } from './paper.mjs';

/** Sheets of A4 or Letter (of each, where they differ by much), give or take one in twenty (fonts differ from machine to machine), and
 * what must be read on the first. */
const ON_PAPER = {
  'comparison.html': { sheets: 13, first: ['Improved', '95 % interval', '4 sessions on 2 days'] },
  'limits.html': { sheets: 8, first: ['approached: s5, s8', 'clear', '110 °C (car sheet)', 'half of such sessions'] },
  'plan.html': { sheets: 5, first: ['four times out of', '14 sessions with each setup'] },
  'season.html': { sheets: 3, first: ['cannot tell yet', 'conductance', '8 sessions on 2 days'] },
  'sessions.html': { sheets: { A4: 39, Letter: 45 }, first: ['assessable', 'UA relative'] },
  'stack.html': { sheets: 8, first: ['Predicted, not measured', 'ranges hold'] },
};

let browser;
before(async () => { browser = await launch(); });
after(async () => { await browser?.close(); });

const COMMITTED = new URL('../../reports/demo/', import.meta.url).pathname;

for (const folder of [COMMITTED, ...demoPages()]) {
  const committed = folder === COMMITTED;
  const names = readdirSync(folder).filter((name) => name.endsWith('.html'));
  for (const name of names) {
    const file = join(folder, name);
    const said = committed ? name : `${name}, US units`;

    test(`${said}: nothing wrong on a desk, light`, async () => {
      assert.deepEqual(await screenFindings(browser, file, { width: DESK, access: committed }), []);
    });
    test(`${said}: nothing wrong on a phone, dark`, async () => {
      const how = { width: PHONE, dark: true, access: committed };
      assert.deepEqual(await screenFindings(browser, file, how), []);
    });
    if (!committed) continue;

    test(`${name}: valid, and not too large`, async () => {
      assert.deepEqual(await markupFindings(file), []);
      assert.ok(statSync(file).size < MOST_BYTES, `${statSync(file).size} bytes`);
    });
    test(`${name}: on paper`, async () => {
      const expected = ON_PAPER[name];
      assert.ok(expected, 'say in ON_PAPER how many sheets it takes');
      const { page } = await open(browser, file, { width: DESK });
      for (const format of ['A4', 'Letter']) {
        const texts = await sheets(page, format);
        const wanted = expected.sheets[format] ?? expected.sheets;
        const leeway = Math.max(1, Math.round(wanted / 20));
        assert.ok(Math.abs(texts.length - wanted) <= leeway, `${format}: ${texts.length} sheets`);
        for (const words of expected.first) {
          assert.ok(texts[0].includes(words), `${format}, first sheet: no "${words}" in ${texts[0]}`);
        }
        for (const [i, text] of texts.entries()) {
          assert.ok(text.trim().length > 20, `${format}: sheet ${i + 1} is empty`);
        }
      }
      await page.close();
    });
  }
  test(`pages of ${committed ? 'reports/demo' : 'the demo in US units'} are there`, () => {
    assert.deepEqual(names.toSorted?.() ?? [...names].sort(), Object.keys(ON_PAPER).sort());
  });
}
