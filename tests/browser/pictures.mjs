// The README's pictures: the upper part of two pages of reports/demo, as a desk shows them.
import { launch, open } from './browser.mjs';

const REPORTS = new URL('../../reports/', import.meta.url).pathname;
const PICTURES = [['comparison', 1450], ['sessions', 1300]];

const browser = await launch();
for (const [name, height] of PICTURES) {
  const { page } = await open(browser, `${REPORTS}demo/${name}.html`, { width: 1100 });
  await page.setViewport({ width: 1100, height, deviceScaleFactor: 1 });
  await page.screenshot({ path: `${REPORTS}${name}.png` });
}
await browser.close();
