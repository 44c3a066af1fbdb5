// The program under test, where HEATBOOK_BIN names it.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const made = [];
process.on('exit', () => made.forEach((folder) => rmSync(folder, { recursive: true, force: true })));

export const program = process.env.HEATBOOK_BIN;

/** A folder that goes when the tests end. */
export function temporaryFolder() {
  const folder = mkdtempSync(join(tmpdir(), 'heatbook-browser-'));
  made.push(folder);
  return folder;
}

export function heatbook(...call) {
  return execFileSync(program, call, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] });
}

/** A file of the sample logs. */
export function sample(name) {
  return new URL(`../../sample_logs/${name}`, import.meta.url).pathname;
}

/** Folders with the demo's pages in US units, which are not committed; none without the program. */
export function demoPages() {
  if (!program) return [];
  const folder = temporaryFolder();
  heatbook('--units', 'us', 'demo', '--out', folder);
  return [folder];
}
