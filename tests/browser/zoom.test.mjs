// Zoom and read-off of the channel charts, by pointer and by keyboard, and the page without scripts.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { after, before, test } from 'node:test';
import { launch, open } from './browser.mjs';

const FILE = new URL('../../reports/demo/sessions.html', import.meta.url).pathname;

let browser;
before(async () => { browser = await launch(); });
after(async () => { await browser?.close(); });

/** What the first chart reads off, and how far it is zoomed. */
const state = (page, which) => page.evaluate((which) => {
  const box = document.querySelector(`[data-scale].${which}`);
  const moved = box.querySelector('rect[transform], path[transform]').getAttribute('transform');
  return {
    said: box.previousElementSibling.querySelector('output').textContent,
    zoom: Number(moved.match(/matrix\(([\d.]+)/)[1]),
  };
}, which);

for (const [which, width] of [['wide', 1400], ['narrow', 360]]) {
  test(`${which}: the keyboard zooms and moves the cursor`, async () => {
    const { page, heard } = await open(browser, FILE, { width });
    const tools = `.tools:has(+ [data-scale].${which})`;
    assert.equal((await state(page, which)).zoom, 1);
    await page.focus(`${tools} button`);
    await page.keyboard.press('Enter');
    await page.keyboard.press('Enter');
    const zoomed = await state(page, which);
    assert.ok(Math.abs(zoomed.zoom - 4) < 1e-9, `${zoomed.zoom}`);
    await page.focus(`${tools} input`);
    for (let i = 0; i < 30; i += 1) await page.keyboard.press('ArrowRight');
    const moved = await state(page, which);
    assert.notEqual(moved.said, zoomed.said);
    assert.match(moved.said, /^\d+:\d\d min · coolant leaving the engine, °C: \d+/);
    await page.focus(`${tools} button:nth-of-type(3)`);
    await page.keyboard.press('Enter');
    assert.equal((await state(page, which)).zoom, 1);
    assert.deepEqual(heard, { errors: [], requests: [] });
    await page.close();
  });
}

test('the pointer reads off what is drawn, and a stretch drawn across is zoomed to', async () => {
  const { page } = await open(browser, FILE, { width: 1400 });
  const svg = await page.$('[data-scale].wide svg');
  await svg.scrollIntoView();
  const box = await svg.boundingBox();
  await page.mouse.move(box.x + box.width * 0.5, box.y + 200);
  const { said } = await state(page, 'wide');
  // The axis says how high the drawn line is; the same must be read off.
  const drawn = await page.evaluate(() => {
    const box = document.querySelector('[data-scale].wide');
    const [[, , minutes], [top, bottom]] = box.dataset.scale.split('|').map((part) => part.split(';'));
    const figures = [...box.querySelectorAll('text[text-anchor=end]')]
      .map((text) => [Number(text.getAttribute('y')) / 2, Number(text.textContent)])
      .filter(([y, value]) => y > Number(top) && y < Number(bottom) && Number.isFinite(value));
    const [low, high] = [figures[0], figures.at(-1)];
    const path = box.querySelector('path.s-measured');
    const [time] = box.previousElementSibling.querySelector('output').textContent.split(' ');
    const [min, sec] = time.split(':').map(Number);
    const goal = 96 + (min + sec / 60) / minutes * (path.ownerSVGElement.viewBox.baseVal.width - 16 - 96);
    const length = path.getTotalLength();
    let best;
    for (let s = 0; s <= length; s += 1) {
      const p = path.getPointAtLength(s);
      if (!best || Math.abs(p.x - goal) < Math.abs(best.x - goal)) best = p;
    }
    return low[1] + (best.y / 2 - low[0]) / (high[0] - low[0]) * (high[1] - low[1]);
  });
  const read = Number(said.match(/engine, °C: ([\d.]+)/)[1]);
  assert.ok(Math.abs(read - drawn) < 1.5, `${read} read, ${drawn} drawn`);
  await page.mouse.move(box.x + box.width * 0.4, box.y + 200);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.6, box.y + 200);
  await page.mouse.up();
  const { zoom } = await state(page, 'wide');
  assert.ok(zoom > 4 && zoom < 5.5, `${zoom}`);
  await page.close();
});

test('zoomed, lines pass through every second, and the axis counts seconds', async () => {
  const { page } = await open(browser, FILE, { width: 1400 });
  await page.focus('.tools button');
  for (let i = 0; i < 4; i += 1) await page.keyboard.press('Enter');
  const seen = await page.evaluate(() => {
    const box = document.querySelector('[data-scale].wide');
    const minutes = Number(box.dataset.scale.split('|')[0].split(';')[2]);
    const titles = [...box.querySelectorAll('text')].map((text) => [text.textContent, Number(text.getAttribute('y'))]);
    const speed = titles.find(([title]) => title.startsWith('vehicle speed'))[1];
    const paths = [...box.querySelectorAll('path.s-measured')].filter((path) => path.style.display !== 'none');
    const line = paths.map((path) => path.getAttribute('d')).find((d) => {
      const [, y] = d.match(/M[\d.-]+ ([\d.]+)/) ?? [];
      return y > speed && y < speed + 160;
    });
    return {
      window: minutes * 60 / 16,
      points: line.match(/[ML]/g).length,
      still: [...box.querySelectorAll('path.s-measured')].filter((path) => path.style.display === 'none').length,
      times: titles.map(([text]) => text).filter((text) => /^\d+:\d\d$/.test(text)),
    };
  });
  assert.ok(seen.still > 3, `${seen.still} lines of the whole session are hidden`);
  // A level stretch is two points however long; this car's speed has few of them.
  assert.ok(seen.points > 0.7 * seen.window && seen.points <= seen.window + 3, JSON.stringify(seen));
  assert.ok(seen.times.length > 4, seen.times.join());
  const [a, b] = seen.times.map((text) => text.split(':').map(Number)).map(([m, s]) => 60 * m + s);
  assert.equal(b - a, 10);
  await page.close();
});

test('without scripts the page is whole', async () => {
  const { page } = await open(browser, FILE, { width: 1400, script: false });
  const source = readFileSync(FILE, 'utf8');
  const dom = await page.content();
  assert.equal(dom.match(/<svg/g).length, source.match(/<svg/g).length);
  assert.ok(!dom.includes('class="tools"'));
  await page.close();
});
