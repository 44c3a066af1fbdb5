// Names come from users and files; a page shows them as text.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { launch, open } from './browser.mjs';
import { heatbook, program, sample, temporaryFolder } from './program.mjs';

const SCRIPT = "<script>document.title='run'</script>";
const IMAGE = "<img src=x onerror=\"document.title='run'\">";

let browser;
before(async () => { browser = await launch(); });
after(async () => { await browser?.close(); });

test('a name with markup is shown as text', { skip: program ? false : 'HEATBOOK_BIN is not set' }, async () => {
  const folder = temporaryFolder();
  const run = (...call) => heatbook('--book', join(folder, 'book'), ...call);
  const logs = [
    ['0517_0946_open.csv', SCRIPT],
    ['0517_1225_sealed.csv', 'plain'],
    ['0517_1346_open.csv', SCRIPT],
    ['0524_1230_sealed.csv', 'plain'],
  ];
  for (const [log, setup] of logs) {
    run('import', sample(log), '--setup', setup, '--car', sample('car.toml'), '--driver', IMAGE, '--note', IMAGE);
  }
  run('amend', 's3', '--exclude', IMAGE);
  const calls = {
    'c.html': ['compare', '--before', SCRIPT, '--after', 'plain'],
    'f.html': ['fit'],
    'l.html': ['limits'],
    's.html': ['season'],
  };
  for (const [name, call] of Object.entries(calls)) {
    const file = join(folder, name);
    run(...call, '--html', file);
    const source = readFileSync(file, 'utf8');
    assert.ok(!source.includes(SCRIPT) && !source.includes(IMAGE), name);
    const { page, heard } = await open(browser, file, { width: 1400 });
    assert.notEqual(await page.title(), 'run', name);
    assert.deepEqual(heard, { errors: [], requests: [] }, name);
    assert.ok((await page.evaluate(() => document.body.innerText)).includes(SCRIPT), `${name}: the name is not shown`);
    await page.close();
  }
});
