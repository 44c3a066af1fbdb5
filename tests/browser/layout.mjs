// What is wrong with the text of a page at its present width. Runs inside the page.

/** Findings, one line each. */
export function layoutFindings() {
  const findings = [];
  const width = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > width) {
    findings.push(`the page is ${document.documentElement.scrollWidth} px wide, the window ${width}`);
  }
  const shown = (element) => element.checkVisibility({ visibilityProperty: true, opacityProperty: true });
  const said = (element) => `"${element.textContent.trim().replace(/\s+/g, ' ').slice(0, 60)}"`;

  // Text of the page itself: inside the window, unless its box scrolls and can be reached by keyboard.
  const scrolls = (element) => {
    for (let box = element.parentElement; box; box = box.parentElement) {
      const overflow = getComputedStyle(box).overflowX;
      if (overflow === 'auto' || overflow === 'scroll') return box.tabIndex === 0;
    }
    return false;
  };
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || element.closest('svg, script, style, .skip') || !shown(element)) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) {
      if (box.width < 1 || scrolls(element)) continue;
      if (box.left < -0.5 || box.right > width + 0.5) {
        findings.push(`text leaves the window: ${said(element)} ${box.left.toFixed(0)}..${box.right.toFixed(0)}`);
      }
    }
    const hides = getComputedStyle(element);
    if (['hidden', 'clip'].includes(hides.overflowX) && element.scrollWidth > element.clientWidth + 1) {
      findings.push(`text is clipped: ${said(element)}`);
    }
  }

  // Text of the drawings: inside the drawing, not cut short, and no two on one another.
  for (const svg of document.querySelectorAll('svg.chart')) {
    if (!shown(svg)) continue;
    const frame = svg.getBoundingClientRect();
    const texts = [...svg.querySelectorAll('text')].filter((text) => shown(text));
    const boxes = texts.map((text) => ({ text, box: text.getBoundingClientRect() }));
    const size = texts.length ? parseFloat(getComputedStyle(texts[0]).fontSize) * frame.width / svg.viewBox.baseVal.width : 99;
    if (size < 9) findings.push(`chart text of ${size.toFixed(1)} px: ${svg.getAttribute('aria-label')?.slice(0, 60)}`);
    for (const { text, box } of boxes) {
      if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.top < frame.top - 1 || box.bottom > frame.bottom + 1) {
        findings.push(`label leaves its chart: ${said(text)} by ${Math.max(frame.left - box.left, box.right - frame.right, frame.top - box.top, box.bottom - frame.bottom).toFixed(1)} px`);
      }
      if (text.textContent.includes('…') && !text.textContent.startsWith('…')) findings.push(`label is cut: ${said(text)}`);
    }
    // Letters have air above and below in their box; only what touches the letters counts.
    for (let i = 0; i < boxes.length; i += 1) {
      for (let j = i + 1; j < boxes.length; j += 1) {
        const [a, b] = [boxes[i].box, boxes[j].box];
        const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const upright = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (across > 1 && upright > 0.3 * Math.min(a.height, b.height)) {
          findings.push(`labels overlap: ${said(boxes[i].text)} and ${said(boxes[j].text)}`);
        }
      }
    }
  }
  return [...new Set(findings)];
}
