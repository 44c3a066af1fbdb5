// The eyes of these tests: pages with planted faults, each of which must be seen.
import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { launch, open } from './browser.mjs';
import { markupFindings, screenFindings } from './checks.mjs';
import { temporaryFolder } from './program.mjs';
import { sheets } from './paper.mjs';

let browser;
before(async () => { browser = await launch(); });
after(async () => { await browser?.close(); });

const svg = (inside) =>
  `<svg class="chart" role="img" aria-label="x" viewBox="0 0 300 100" width="300" height="100">${inside}</svg>`;

const FAULTS = {
  'a broken script': ['<script>nowhere.to.be.found()</script>', /console: .*nowhere/],
  'a request': ['<img alt="x" src="https://example.invalid/x.png">', /request: https:\/\/example/],
  'a wide page': ['<div style="width: 2000px">wide</div>', /the page is 20\d\d px wide/],
  'text beyond the window': ['<div style="overflow: hidden"><p style="width: 3000px; text-align: right">far</p></div>', /leaves the window: "far"/],
  'clipped text': ['<p style="width: 3ch; overflow: hidden; white-space: nowrap">clipped here</p>', /clipped: "clipped here"/],
  'overlapping labels': [svg('<text x="10" y="20">first label</text><text x="40" y="22">second</text>'), /overlap: "first label" and "second"/],
  'a label beyond its chart': [svg('<text x="280" y="20">outside of it</text>'), /leaves its chart: "outside of it"/],
  'a cut label': [svg('<text x="10" y="20">a long na…</text>'), /label is cut/],
  'small letters': [svg('<text style="font-size: 6px" x="10" y="20">tiny</text>'), /chart text of 6\.0 px/],
  'pale letters': [svg('<text class="pale" fill="#bbb" x="10" y="20">pale</text>'), /pale: contrast 1\.9/],
  'an image without a text': ['<img src="data:image/gif;base64,R0lGODlhAQABAAAAACwAAAAAAQABAAA=">', /image-alt/],
};

for (const [fault, [markup, expected]] of Object.entries(FAULTS)) {
  test(`${fault} is seen`, async () => {
    const file = join(temporaryFolder(), 'fault.html');
    writeFileSync(file, `<!DOCTYPE html><html lang="en"><head><title>x</title><style>body{background:#fff}</style></head><body><main><h1>x</h1>${markup}</main></body></html>`);
    const findings = await screenFindings(browser, file, { width: 1400, access: true });
    assert.match(findings.join('\n'), expected);
  });
}

test('wrong markup is seen', async () => {
  const file = join(temporaryFolder(), 'fault.html');
  writeFileSync(file, '<!DOCTYPE html><html lang="en"><head><title>x</title></head><body><p><div id="a"></div><div id="a"></div></p></body></html>');
  const findings = (await markupFindings(file)).join('\n');
  assert.match(findings, /no-dup-id/);
  assert.match(findings, /element-permitted-content|close-order|no-implicit-close/);
});

test('sheets are counted and read', async () => {
  const file = join(temporaryFolder(), 'two.html');
  writeFileSync(file, '<!DOCTYPE html><title>x</title><p>first sheet</p><p style="break-before: page">second sheet</p>');
  const { page } = await open(browser, file, { width: 1400 });
  assert.deepEqual((await sheets(page, 'A4')).map((text) => text.trim()), ['first sheet', 'second sheet']);
});
