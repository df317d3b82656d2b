// journey.mjs PROGRAM   a person goes through the three acts in a real browser, with the real server, on a desk's width and a
// phone's. Exit code 0, 1 (what failed is said), 77 where browser or packages are missing.
import { execFileSync, spawn } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import path from 'node:path';

const program = path.resolve(process.argv[2] ?? 'build/release/bin/nightglass');
const here = path.dirname(new URL(import.meta.url).pathname);
const require = createRequire(path.join(here, '../package.json'));
const browserPath = ['/usr/bin/chromium', '/usr/bin/chromium-browser'].find(existsSync);
if (!existsSync(path.join(here, '../node_modules/playwright-core')) || !browserPath) {
  console.log('SKIP: needs the page’s npm packages and Chromium');
  process.exit(77);
}
const { chromium } = require('playwright-core');
const axe = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

let failures = 0;
function expect(truth, what) {
  if (truth) return;
  failures += 1;
  console.log(`FAILED: ${what}`);
}
const run = (...words) => execFileSync(program, words, { stdio: ['ignore', 'pipe', 'pipe'] }).toString();

const folder = mkdtempSync(path.join(tmpdir(), 'ng-journey-'));
const workspace = path.join(folder, 'sky');
run('init', workspace, '--time-zone', 'Europe/Rome');
run('rehearse', '--out', path.join(workspace, 'frames', 'one-night'), '--filters', 'L', '--lights', '4', '--size', '900x700',
  '--darks', '4', '--flats', '4', '--bias', '4', '--dark-flats', '4', '--quiet');
cpSync(path.join(workspace, 'frames', 'one-night', 'light'), path.join(workspace, 'incoming'), { recursive: true });
const server = spawn(program, ['serve', '--workspace', workspace, '--port', '0'], { stdio: ['ignore', 'pipe', 'inherit'] });
const address = await new Promise((tell) => server.stdout.once('data', (data) => tell(data.toString().trim())));
const browser = await chromium.launch({
  executablePath: browserPath,
  args: ['--no-sandbox', '--use-angle=swiftshader', '--enable-unsafe-swiftshader', '--ignore-gpu-blocklist'],
});

async function open(size, theme) {
  const context = await browser.newContext({ viewport: size, locale: 'en-GB', timezoneId: 'UTC', hasTouch: size.width < 600 });
  // The first visit alone: what the person chooses later stays.
  await context.addInitScript((t) => localStorage.getItem('theme') ?? localStorage.setItem('theme', t), theme);
  const page = await context.newPage();
  page.on('console', (m) => {
    // The readback of the test itself stalls the drawing; the browser remarks on it.
    if (['error', 'warning'].includes(m.type()) && !m.text().includes('ReadPixels')) expect(false, `console: ${m.text()}`);
  });
  page.on('pageerror', (e) => expect(false, `page error: ${e.message}`));
  return page;
}

async function accessible(page, where) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() =>
    window.axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] }));
  for (const v of violations)
    expect(false, `${where}: ${v.help} (${v.nodes.length}): ${v.nodes[0].target.join(' ')} ${v.nodes[0].any[0]?.message ?? ''}`);
}

// Counts pixels of a screenshot that are not black or red, in the browser itself.
async function notRed(page) {
  const png = (await page.screenshot({ fullPage: true })).toString('base64');
  const judge = await browser.newPage();
  const result = await judge.evaluate(async (data) => {
    const image = new Image();
    image.src = `data:image/png;base64,${data}`;
    await image.decode();
    const canvas = new OffscreenCanvas(image.width, image.height);
    const pen = canvas.getContext('2d');
    pen.drawImage(image, 0, 0);
    const { data: p } = pen.getImageData(0, 0, image.width, image.height);
    let worst = 0, lit = 0;
    for (let i = 0; i < p.length; i += 4) {
      worst = Math.max(worst, p[i + 1], p[i + 2]);
      if (p[i] > 40) lit += 1;
    }
    return { worst, lit };
  }, png);
  await judge.close();
  return result;
}

async function fits(page, where) {
  const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  expect(over <= 0, `${where}: the page is ${over} px wider than the screen`);
}

try {
  // At the desk: choose, frame, expose, plan.
  const desk = await open({ width: 1440, height: 900 }, 'night');
  await desk.goto(`${address}/#dusk`);
  await desk.waitForSelector('.object');
  expect((await desk.locator('.object').count()) < 60, 'only the candidates in sight are in the page');
  const first = (await desk.locator('.object button.name').first().innerText()).split('\n')[0].split(',')[0].trim();
  await desk.locator('.object input').first().check();
  await desk.locator('.band text.name', { hasText: first }).waitFor();
  await desk.locator('svg polygon.panel').first().waitFor();
  // The field is carried over the chart by the pointer and by keys, and comes back.
  const chart = desk.locator('svg:has(polygon.panel)');
  const corners = () => chart.locator('polygon.panel').first().getAttribute('points');
  const framed = await corners();
  const ground = await chart.boundingBox();
  await desk.mouse.move(ground.x + ground.width / 2, ground.y + ground.height / 2);
  await desk.mouse.down();
  await desk.mouse.move(ground.x + ground.width / 2 + 40, ground.y + ground.height / 2 - 20, { steps: 4 });
  await desk.mouse.up();
  await desk.getByRole('button', { name: 'Back to the middle' }).waitFor();
  await chart.focus();
  await desk.keyboard.press('ArrowLeft');
  await desk.waitForFunction((was) => document.querySelector('polygon.panel')?.getAttribute('points') !== was, framed);
  await desk.getByRole('button', { name: 'Back to the middle' }).click();
  await desk.waitForFunction((was) => document.querySelector('polygon.panel')?.getAttribute('points') === was, framed);
  await desk.getByRole('button', { name: 'Plan this night' }).click();
  await desk.locator('tbody tr').first().waitFor();
  expect((await desk.locator('.big').first().innerText()).match(/s × \d+/), 'the exposure says seconds times frames');
  await desk.getByRole('searchbox').fill('no such thing');
  await desk.getByText('Nothing matches').waitFor();
  await desk.getByRole('searchbox').fill('');
  // The site as a form: what is wrong is said while typing, what is right is written with every remark kept.
  await desk.locator('#settings-site').click();
  await desk.locator('#site-latitude_deg').fill('95');
  await desk.getByText(/site\.toml:\d+: latitude_deg/).waitFor();
  const before = readFileSync(path.join(workspace, 'site.toml'), 'utf8');
  await desk.locator('#site-latitude_deg').fill('46.1');
  await desk.locator('section[aria-labelledby="settings-site"] button.main:not([disabled])').click();
  await desk.getByText(/site\.toml is written/).waitFor();
  const after = readFileSync(path.join(workspace, 'site.toml'), 'utf8');
  expect(after !== before && after === before.replace(/latitude_deg = [\d.]+/, 'latitude_deg = 46.1'), 'one value of site.toml is changed and nothing else');
  await desk.locator('section[aria-labelledby="dome"] svg').waitFor();
  await desk.getByRole('button', { name: 'Plan this night' }).click();
  await desk.locator('.card table tbody tr').first().waitFor({ state: 'attached' });
  await desk.emulateMedia({ media: 'print' });
  expect((await desk.locator('.card').isVisible()) && !(await desk.locator('.band').isVisible()), 'the card is printed, and it alone');
  await desk.emulateMedia({ media: 'screen' });
  await accessible(desk, 'Dusk');
  await fits(desk, 'Dusk');
  await desk.reload();
  await desk.waitForSelector('.object');
  expect(await desk.locator('.object input').first().isChecked(), 'what was chosen is still chosen after a reload');

  // In the morning: reduce, watch, look, finish.
  await desk.goto(`${address}/#dawn`);
  await desk.getByRole('button', { name: 'Reduce' }).click();
  await desk.getByText('lights are in the masters').waitFor({ timeout: 60000 });
  await desk.locator('button.master').first().waitFor();
  await desk.waitForTimeout(1500);
  const seen = await desk.locator('.stage').screenshot();
  await desk.locator('#white').fill('3');
  await desk.waitForTimeout(300);
  expect(!seen.equals(await desk.locator('.stage').screenshot()), 'the white point changes the picture');
  const box = await desk.locator('.stage').boundingBox();
  await desk.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await desk.locator('.reading', { hasText: /pixel \d+, \d+.*±/ }).waitFor();
  const zoom = await desk.locator('.side .zoom').innerText();
  await desk.mouse.wheel(0, -600);
  await desk.waitForTimeout(200);
  expect(zoom !== (await desk.locator('.side .zoom').innerText()), 'the wheel zooms');
  await desk.locator('.hands').press('0');
  expect(zoom === (await desk.locator('.side .zoom').innerText()), 'the key 0 shows the whole again');
  // Every frame can be looked at where it lies on the master, and its master again.
  const frames = desk.locator('section[aria-labelledby="frames"]');
  await frames.locator('tbody tr').nth(3).waitFor();
  await frames.locator('button.name').nth(2).click();
  await desk.locator('.stage .title', { hasText: 'Frame light_L_' }).waitFor();
  await desk.getByRole('button', { name: 'Next' }).click();
  await desk.getByRole('button', { name: 'The master' }).click();
  await desk.locator('.stage .title', { hasText: '.fits' }).waitFor();
  // The band is the record too: the night of the frames, one bar each; a press shows the frame, dragging chooses a time.
  await desk.locator('#night-of').selectOption({ index: 1 });
  await desk.locator('rect.came').nth(3).waitFor();
  expect((await desk.locator('rect.came').count()) === 4, 'four frames came, and four stand on the band');
  await desk.locator('nav a[href="#dusk"]').click();
  await desk.locator('rect.came').nth(1).click();
  await desk.locator('.stage .title', { hasText: 'Frame light_L_0002' }).waitFor();
  const night = await desk.locator('.band').boundingBox();
  await desk.mouse.move(night.x + 200, night.y + 40);
  await desk.mouse.down();
  await desk.mouse.move(night.x + night.width / 2, night.y + 40, { steps: 4 });
  await desk.mouse.up();
  await desk.locator('p.reading', { hasText: /\d\d:\d\d.* mag/ }).waitFor();
  await desk.getByRole('button', { name: 'Back to now' }).click();
  await desk.getByRole('button', { name: 'The master' }).click();
  // What lies over it: coverage with its legend.
  const bare = await desk.locator('.stage').screenshot();
  await desk.locator('#shade').selectOption('coverage');
  await desk.locator('.legend').waitFor();
  await desk.waitForTimeout(800);
  expect(!bare.equals(await desk.locator('.stage').screenshot()), 'the coverage is drawn over the picture');
  await desk.locator('#shade').selectOption('');
  // The recipe: a wrong value is refused where it stands, a step goes off and comes back, the picture is made and shown.
  await desk.getByRole('button', { name: 'Noise by variance' }).click();
  await desk.locator('#noise-strength').fill('7');
  await desk.locator('#noise-strength').blur();
  await desk.getByText('from 0 to 1').waitFor();
  expect(await desk.getByRole('button', { name: 'Make the picture' }).isDisabled(), 'a wrong value makes no picture');
  await desk.locator('#noise-strength').fill('0.5');
  await desk.locator('#noise-strength').blur();
  const crop = desk.getByLabel('Do the step Common coverage');
  await crop.uncheck();
  await desk.getByRole('button', { name: 'Undo' }).click();
  expect(await crop.isChecked(), 'undo brings the step back');
  await desk.getByRole('button', { name: 'Redo' }).click();
  expect(!(await crop.isChecked()), 'redo takes it away again');
  await desk.getByRole('button', { name: 'Make the picture' }).click();
  await desk.locator('.stage .title', { hasText: 'one-night.png' }).waitFor({ timeout: 60000 });
  const recipe = readFileSync(path.join(workspace, 'pictures', 'one-night.recipe.toml'), 'utf8');
  expect(/name = "crop"\non = false/.test(recipe) && recipe.includes('strength = 0.5'), 'the recipe of the picture says what was wished');
  // Side by side, both moved by one hand.
  await desk.locator('#beside').selectOption({ index: 1 });
  expect((await desk.locator('.stage').count()) === 2, 'two stand side by side');
  await desk.locator('.hands').first().press('+');
  await desk.locator('#beside').selectOption('');
  // Home to the library: copied from a folder of the workspace, then listed by target.
  await desk.locator('#source').fill('incoming');
  await desk.getByRole('button', { name: 'Take in' }).click();
  await desk.getByText(/4 copied and verified/).waitFor({ timeout: 30000 });
  await desk.locator('section[aria-labelledby="library"] summary strong').first().waitFor();
  await accessible(desk, 'Dawn');
  await fits(desk, 'Dawn');
  await desk.goto(`${address}/#night`);
  await accessible(desk, 'Night');

  // Under the sky: a phone, eyes used to the dark; what was made at the desk is there.
  const phone = await open({ width: 390, height: 844 }, 'dark-adapted');
  for (const act of ['dusk', 'night', 'dawn']) {
    await phone.goto(`${address}/#${act}`);
    if (act === 'dusk') await phone.waitForSelector('.object');
    if (act === 'dawn') await phone.getByRole('button', { name: 'one-night.png' }).click();
    await phone.waitForTimeout(1000);
    const { worst, lit } = await notRed(phone);
    expect(worst <= 2, `${act}, dark-adapted: a pixel has ${worst} of green or blue`);
    expect(lit > 500, `${act}, dark-adapted: something is to be seen`);
    await fits(phone, `${act} on a phone`);
    await accessible(phone, `${act}, dark-adapted`);
  }
  // A finger on the chart beside the field moves the page; on the field it carries the field.
  await phone.goto(`${address}/#dusk`);
  const object = phone.locator('.object input').first();
  if (!(await object.isChecked())) await object.check();
  const small = phone.locator('svg:has(polygon.panel)');
  await small.scrollIntoViewIfNeeded();
  const sheet = await small.boundingBox();
  const finger = await phone.context().newCDPSession(phone);
  const stroke = async (x, y) => {
    const before = await phone.evaluate(() => scrollY);
    const touch = (type, at) => finger.send('Input.dispatchTouchEvent', { type, touchPoints: at === null ? [] : [{ x, y: at }] });
    await touch('touchStart', y);
    for (let k = 1; k <= 12; ++k) {
      await touch('touchMove', y - 10 * k);
      await phone.waitForTimeout(16);
    }
    await touch('touchEnd', null);
    await phone.waitForTimeout(200);
    return (await phone.evaluate(() => scrollY)) - before;
  };
  expect((await stroke(sheet.x + 6, sheet.y + sheet.height / 2)) > 60, 'beside the field a finger moves the page');
  await small.scrollIntoViewIfNeeded();
  const again = await small.boundingBox();
  expect((await stroke(again.x + again.width / 2, again.y + again.height / 2)) === 0, 'on the field it does not');
  await phone.getByRole('button', { name: 'Back to the middle' }).waitFor();

  // From the first moment on: nothing is drawn before the theme is known.
  const early = await phone.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
  expect(early === 'rgb(0, 0, 0)', `the first background is ${early}`);

  // A second device of the network: nothing until it is paired, by the invitation or by hand; the code leaves the address.
  const lan = spawn(program, ['serve', '--workspace', workspace, '--port', '0', '--lan', '--json'], { stdio: ['ignore', 'pipe', 'inherit'] });
  let said = '';
  const about = await new Promise((tell) => lan.stdout.on('data', (data) => {
    said += data;
    try { tell(JSON.parse(said)); } catch { /* more comes */ }
  }));
  if (about.addresses.length > 1) {
    const there = about.addresses[1];
    const guest = await open({ width: 390, height: 844 }, 'dark-adapted');
    await guest.goto(`${there}/#dusk`);
    await guest.getByText('This device is not paired yet').waitFor();
    expect((await guest.locator('.band').count()) === 0, 'nothing of the night is shown before');
    await accessible(guest, 'Pairing');
    const { worst } = await notRed(guest);
    expect(worst <= 2, `pairing, dark-adapted: a pixel has ${worst} of green or blue`);
    await guest.getByLabel('Code').fill(about.pairing_code.toLowerCase());
    await guest.getByRole('button', { name: 'Pair this device' }).click();
    await guest.waitForSelector('.object');
    const cookies = await guest.context().cookies();
    expect(cookies.length === 1 && cookies[0].httpOnly && cookies[0].sameSite === 'Strict', 'the token is kept where no script reads it');
    expect(!(await guest.evaluate(() => JSON.stringify(localStorage))).includes(cookies[0].value), 'and nowhere else');
    const invited = await open({ width: 390, height: 844 }, 'night');
    await invited.goto(`${there}/#pair=${about.pairing_code}`);
    await invited.waitForSelector('.object');
    await invited.waitForLoadState('networkidle');
    expect(!invited.url().includes('pair'), 'the code has left the address');
  } else {
    console.log('pairing was not tried: this machine is on no network');
  }
  lan.kill('SIGTERM');
  const ended = await new Promise((tell) => lan.once('exit', (code) => tell(code)));
  expect(ended === 0 || ended === 1 || ended === 130, `serve ends when asked: ${ended}`);

  // The program ends: the page says so, and stays.
  server.kill('SIGTERM');
  await new Promise((ended) => server.once('exit', ended));
} finally {
  await browser.close();
  server.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
}
console.log(failures === 0 ? 'three acts, two widths: all as it should be' : `${failures} things failed`);
process.exit(failures === 0 ? 0 : 1);
