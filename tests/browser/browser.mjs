// A headless Chromium, pages opened from disk, and everything they asked for or complained of.
import { existsSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import puppeteer from 'puppeteer-core';

const PLACES = [
  process.env.HEATBOOK_CHROMIUM,
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
  '/Applications/Chromium.app/Contents/MacOS/Chromium',
];

/** The program of the browser, or undefined where there is none. */
export function chromium() {
  return PLACES.find((place) => place && existsSync(place));
}

export function launch() {
  return puppeteer.launch({
    executablePath: chromium(),
    headless: true,
    args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking'],
  });
}

/** A page from disk at a width in CSS pixels. `heard`: its console errors and what it fetched. */
export async function open(browser, file, { width, dark = false, script = true }) {
  const page = await browser.newPage();
  const heard = { errors: [], requests: [] };
  const address = pathToFileURL(file).href;
  page.on('pageerror', (error) => heard.errors.push(String(error)));
  page.on('console', (message) => {
    if (['error', 'warn'].includes(message.type())) heard.errors.push(message.text());
  });
  page.on('request', (request) => {
    if (request.url() !== address) heard.requests.push(request.url());
  });
  await page.setJavaScriptEnabled(script);
  await page.setViewport({ width, height: 900, deviceScaleFactor: 1, hasTouch: width < 500 });
  await page.emulateMediaFeatures([
    { name: 'prefers-color-scheme', value: dark ? 'dark' : 'light' },
  ]);
  await page.goto(address, { waitUntil: 'load' });
  return { page, heard };
}
