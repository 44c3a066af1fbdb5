// A page as it is printed: the text of each sheet.
// pdf.js looks for what only drawing needs, and complains where there is none.
globalThis.DOMMatrix ??= class {};
globalThis.Path2D ??= class {};
const { default: pdfjs } = await import('pdfjs-dist/legacy/build/pdf.js');

/** The text of each sheet that the page prints to. `format`: A4 or Letter. */
export async function sheets(page, format) {
  const data = await page.pdf({ format, preferCSSPageSize: false, printBackground: true });
  // Only text is wanted: no fonts from this machine, no evaluated code.
  const loading = pdfjs.getDocument({ data, disableFontFace: true, isEvalSupported: false, verbosity: 0 });
  const document = await loading.promise;
  const texts = [];
  for (let n = 1; n <= document.numPages; n += 1) {
    const content = await (await document.getPage(n)).getTextContent();
    texts.push(content.items.map((item) => item.str).join(' ').replace(/\s+/g, ' '));
  }
  await loading.destroy();
  return texts;
}
