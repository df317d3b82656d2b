// page_quick.mjs PROGRAM WORKSPACE   how quick the page is in a real browser, on loopback: the first useful paint, a change of
// tone, and scrolling the candidates. Needs a workspace with a master (scripts/demo.sh makes one), the page's npm packages and
// Chromium. Fails above 1 s for the first paint that shows the night, 16.7 ms for a change of tone, 50 ms for the worst frame of
// scrolling.
import { spawn } from 'node:child_process';
import { createRequire } from 'node:module';
import path from 'node:path';

const [program, workspace] = process.argv.slice(2);
const require = createRequire(path.join(path.dirname(new URL(import.meta.url).pathname), '../web/package.json'));
const { chromium } = require('playwright-core');
const server = spawn(program, ['serve', '--workspace', workspace, '--port', '0'], { stdio: ['ignore', 'pipe', 'ignore'] });
const address = await new Promise((tell) => server.stdout.once('data', (data) => tell(data.toString().trim())));
// Without a graphics processor: pages are drawn by the browser's own means, the picture by an emulated processor.
const launch = (...args) => chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox', ...args] });
let browser = await launch();
const middle = (values) => [...values].sort((a, b) => a - b)[values.length >> 1];
const failures = [];
function judge(name, value, limit) {
  console.log(`${name}: ${value.toFixed(1)} ms (limit ${limit})`);
  if (value > limit) failures.push(name);
}

try {
  // The band of the night stands on the screen: the first paint that is of use. A new visitor each time, nothing kept.
  const paints = [];
  for (let i = 0; i < 5; ++i) {
    const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
    const page = await context.newPage();
    await page.addInitScript(() => {
      new MutationObserver((_, observer) => {
        if (!document.querySelector('.band svg path')) return;
        observer.disconnect();
        requestAnimationFrame(() => requestAnimationFrame(() => (window.useful = performance.now())));
      }).observe(document, { childList: true, subtree: true });
    });
    await page.goto(`${address}/#dusk`);
    await page.waitForFunction(() => window.useful);
    paints.push(await page.evaluate(() => window.useful));
    await context.close();
  }
  judge('first useful paint, median of 5', middle(paints), 1000);

  const page = await browser.newPage({ viewport: { width: 1440, height: 900 } });
  await page.goto(`${address}/#dusk`);
  await page.waitForSelector('.object');
  const scrolling = await page.evaluate(async () => {
    const list = document.querySelector('.object').closest('[class*=list]') ?? document.querySelector('.object').parentElement;
    let box = list;
    while (box && box.scrollHeight <= box.clientHeight + 10) box = box.parentElement;
    const steps = [];
    let last = performance.now();
    for (let k = 0; k < 120; ++k) {
      box.scrollTop += 90;
      await new Promise(requestAnimationFrame);
      const now = performance.now();
      steps.push(now - last);
      last = now;
    }
    return { steps, travelled: box.scrollTop };
  });
  console.log(`candidates scrolled by ${scrolling.travelled} px: median frame ${middle(scrolling.steps).toFixed(1)} ms`);
  judge('worst frame of scrolling', Math.max(...scrolling.steps.slice(2)), 50);

  await browser.close();
  browser = await launch('--use-angle=swiftshader', '--enable-unsafe-swiftshader', '--ignore-gpu-blocklist');
  const dawn = await browser.newPage({ viewport: { width: 1440, height: 900 } });
  await dawn.goto(`${address}/#dawn`);
  await dawn.locator('button.master').first().click();
  await dawn.waitForTimeout(3000);
  // From the change of the slider to the last drawing call that follows from it: what the page itself takes. When the
  // emulated processor has done it is told beside that, and says nothing of a real one.
  const tones = await dawn.evaluate(async () => {
    const slider = document.querySelector('#white');
    const gl = document.querySelector('.stage canvas').getContext('webgl2');
    let drawn = 0;
    for (const name of ['drawArrays', 'drawElements', 'drawArraysInstanced']) {
      const call = gl[name].bind(gl);
      gl[name] = (...words) => {
        call(...words);
        drawn = performance.now();
      };
    }
    const own = [], emulated = [];
    for (let k = 0; k < 60; ++k) {
      await new Promise((go) => setTimeout(go, 60 + (k % 7)));
      const begun = performance.now();
      drawn = 0;
      slider.value = 4 + (k % 20) * 0.1;
      slider.dispatchEvent(new Event('input', { bubbles: true }));
      while (!drawn) await new Promise((go) => setTimeout(go, 0));
      own.push(drawn - begun);
      gl.finish();
      emulated.push(performance.now() - begun);
    }
    return { own, emulated };
  });
  console.log(`with the emulated graphics processor's drawing: ${middle(tones.emulated).toFixed(1)} ms`);
  judge('change of tone, the page itself, median of 60', middle(tones.own), 16.7);
} finally {
  await browser.close();
  server.kill('SIGTERM');
}
for (const failure of failures) console.log(`FAILED: ${failure}`);
process.exit(failures.length ? 1 : 0);
