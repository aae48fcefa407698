// Checks pages with axe-core in Chromium at 360 and 1200 pixels: node axe.js PAGE...
const puppeteer = require('puppeteer-core'), fs = require('fs');
(async () => {
  const browser = await puppeteer.launch({executablePath: process.env.CHROMIUM || '/usr/bin/chromium', args: ['--no-sandbox']});
  const axe = fs.readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');
  let wrong = 0;
  for (const file of process.argv.slice(2)) {
    for (const width of [360, 1200]) {
      const page = await browser.newPage();
      await page.setBypassCSP(true); // the page itself allows no script
      await page.setViewport({width, height: 900});
      const served = file.startsWith('http'); // the panel, which never falls silent
      await page.goto(served ? file : 'file://' + fs.realpathSync(file));
      if (served) await page.waitForSelector('#next button');
      await page.evaluate(axe);
      const found = await page.evaluate(async () => ({
        violations: (await window.axe.run()).violations.map(v => v.id + ': ' + v.nodes[0].html.slice(0, 120)),
        wide: document.documentElement.scrollWidth,
      }));
      const bad = found.violations.length > 0 || found.wide > width;
      wrong += bad ? 1 : 0;
      console.log(`${bad ? 'FAIL' : 'ok  '} ${file.replace(/#.*/, "")} at ${width}: ${found.wide} pixels wide, ${found.violations.join('; ') || 'no violation'}`);
      await page.close();
    }
  }
  await browser.close();
  process.exit(wrong ? 1 : 0);
})();
