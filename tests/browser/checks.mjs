// What must hold for every page, on the desk, on the phone and on paper.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { HtmlValidate } from 'html-validate';
import { open } from './browser.mjs';
import { contrastFindings } from './contrast.mjs';
import { layoutFindings } from './layout.mjs';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const VALIDATOR = new HtmlValidate({ extends: ['html-validate:standard', 'html-validate:document'] });

export const PHONE = 360;
export const DESK = 1400;
/** The largest page that may be written, bytes. */
export const MOST_BYTES = 1_500_000;

/** What is not valid in a file's markup. */
export async function markupFindings(file) {
  const report = await VALIDATOR.validateString(readFileSync(file, 'utf8'));
  return report.results.flatMap((result) =>
    result.messages.map((m) => `${m.line}:${m.column} ${m.ruleId}: ${m.message}`));
}

/** What axe finds that is serious or critical. */
export async function accessFindings(page) {
  await page.evaluate(AXE);
  const violations = await page.evaluate(async () =>
    (await globalThis.axe.run(document, { resultTypes: ['violations'] })).violations);
  return violations
    .filter((v) => ['serious', 'critical'].includes(v.impact))
    .map((v) => `${v.id}: ${v.help}: ${v.nodes[0].html.slice(0, 200)}`);
}

/** Opens a page and returns all that is wrong with it there. */
export async function screenFindings(browser, file, how) {
  const { page, heard } = await open(browser, file, how);
  try {
    return [
      ...heard.errors.map((text) => `console: ${text}`),
      ...heard.requests.map((address) => `request: ${address}`),
      ...(await page.evaluate(layoutFindings)),
      ...(how.access ? await accessFindings(page) : []),
      ...(how.access ? await page.evaluate(contrastFindings) : []),
    ];
  } finally {
    await page.close();
  }
}
