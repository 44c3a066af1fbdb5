// Contrast of the drawings' text, which axe does not judge. Runs inside the page.
// Relative luminance and contrast ratio as WCAG 2.2 defines them; at least 4.5 for small text
// (success criterion 1.4.3).

export function contrastFindings() {
  const pixel = document.createElement('canvas').getContext('2d', { willReadFrequently: true });
  const luminance = (colour) => {
    pixel.fillStyle = colour;
    pixel.fillRect(0, 0, 1, 1);
    const [r, g, b] = [...pixel.getImageData(0, 0, 1, 1).data].map((channel) => {
      const c = channel / 255;
      return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const paper = getComputedStyle(document.body).backgroundColor;
  const findings = new Map();
  for (const text of document.querySelectorAll('svg.chart text')) {
    const kind = text.getAttribute('class');
    // Figures on a map's cells carry their own two inks.
    if (findings.has(kind) || /on-(dark|light)/.test(kind)) continue;
    const [a, b] = [luminance(getComputedStyle(text).fill), luminance(paper)];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    findings.set(kind, ratio);
  }
  return [...findings].filter(([, ratio]) => ratio < 4.5).map(([kind, ratio]) => `${kind}: contrast ${ratio.toFixed(2)}`);
}
