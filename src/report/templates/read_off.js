/* Zoom and read-off of the channel charts. The drawings are whole without it. */
for (const box of document.querySelectorAll('[data-scale]')) {
  const [[left, right, length], ...strips] = box.dataset.scale.split('|').map((part) => part.split(';'));
  const panels = strips.map((ends) => {
    const [top, bottom, low, high, sensor, zero] = ends.map(Number);
    // No finer than the drawing tells, no finer than the sensor reads.
    const drawn = (high - low) / (2 * (bottom - top));
    let step = sensor;
    while (step && step < drawn) step *= 10;
    return { top, bottom, low, high, drawn, step, zero };
  });
  const svg = box.querySelector('svg');
  const NS = svg.namespaceURI;
  // A panel's title is the text that stands closest above it.
  for (const panel of panels) {
    for (const text of svg.querySelectorAll('text:not([text-anchor])')) {
      if (Number(text.getAttribute('y')) < 2 * panel.top) panel.title = text.textContent;
    }
  }
  const make = (name, of, attributes = {}) => {
    const element = name === 'svg:line' ? document.createElementNS(NS, 'line') : document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    of.append(element);
    return element;
  };
  // The drawing counts in half pixels.
  const [L, R] = [2 * left, 2 * right];
  const all = Number(length);
  const first = 2 * panels[0].top;
  let from = 0, to = all, at = all / 2;

  // What lies between the left and the right edge moves with time.
  const moving = [], ticks = [], lines = [];
  for (const path of svg.querySelectorAll('path')) {
    const numbers = (path.getAttribute('d').match(/-?\d+/g) ?? []).map(Number);
    let [x, y] = numbers;
    const points = [[x, y]];
    for (let i = 2; i < numbers.length; i += 2) points.push([x += numbers[i], y += numbers[i + 1]]);
    const level = points.length === 2 && points[0][1] === points[1][1];
    const key = level && points[0][0] !== L;
    if (level && !key) continue;
    if (key && !panels.some((p) => points[0][1] > 2 * p.top && points[0][1] <= 2 * p.bottom)) continue;
    moving.push(path);
    const panel = panels.find((p) => points.every((q) => q[1] >= 2 * p.top - 1 && q[1] <= 2 * p.bottom + 1));
    if (panel && /s-(measured|model|residual)/.test(path.getAttribute('class'))) {
      lines.push({ points, panel, model: path.classList.contains('s-model') });
    }
  }
  for (const rect of svg.querySelectorAll('rect')) moving.push(rect);
  const last = panels.at(-1);
  for (const text of svg.querySelectorAll('text[text-anchor=middle]')) {
    if (text.getAttribute('y') > 2 * last.bottom) ticks.push([text, Number(text.getAttribute('x'))]);
  }
  const clip = document.createElementNS(NS, 'clipPath');
  clip.id = `clip-${Math.random().toString(36).slice(2)}`;
  const hole = document.createElementNS(NS, 'rect');
  for (const [key, value] of Object.entries({ x: L, y: 0, width: R - L, height: svg.viewBox.baseVal.height })) hole.setAttribute(key, value);
  clip.append(hole);
  svg.prepend(clip);
  for (const element of moving) {
    const group = document.createElementNS(NS, 'g');
    group.setAttribute('clip-path', `url(#${clip.id})`);
    element.replaceWith(group);
    group.append(element);
    element.setAttribute('vector-effect', 'non-scaling-stroke');
  }

  const tools = document.createElement('div');
  tools.className = 'tools';
  box.before(tools);
  const button = (sign, label, act) => {
    const element = make('button', tools, { type: 'button', 'aria-label': label });
    element.textContent = sign;
    element.addEventListener('click', act);
  };
  const zoom = (factor) => {
    const width = Math.min(all, Math.max(all / 40, (to - from) * factor));
    from = Math.min(Math.max(0, at - width / 2), all - width);
    to = from + width;
    show();
  };
  button('+', 'Zoom in around the cursor', () => zoom(0.5));
  button('\u2212', 'Zoom out', () => zoom(2));
  button('all', 'Show all of the session', () => zoom(Infinity));
  const slider = make('input', tools, { type: 'range', min: 0, max: all, step: all / 500, 'aria-label': 'Cursor, minutes' });
  const said = make('output', tools);
  const help = make('small', tools);
  help.textContent = 'The slider or the pointer moves the cursor; drawing across a stretch zooms to it. Values are read off the drawing, in the steps of the sensor.';
  const cursor = make('svg:line', svg, { class: 's-zero', y1: first, y2: 2 * last.bottom });

  const decimals = (step) => Math.min(3, (String(Number(step.toPrecision(6))).split('.')[1] ?? '').length);
  const place = (t) => L + (t - from) / (to - from) * (R - L);
  const clock = (t) => `${Math.floor(t)}:${String(Math.floor(t * 60 % 60)).padStart(2, '0')} min`;
  const read = () => {
    const x = L + at / all * (R - L);
    const parts = lines.filter(({ points }) => x >= points[0][0] - 4 && x <= points.at(-1)[0] + 4).map(({ points, panel, model }) => {
      let best = points[0];
      for (const point of points) if (Math.abs(point[0] - x) < Math.abs(best[0] - x)) best = point;
      const value = panel.high - (best[1] / 2 - panel.top) / (panel.bottom - panel.top) * (panel.high - panel.low);
      const rounds = panel.step && !model;
      const told = rounds ? panel.zero + Math.round((value - panel.zero) / panel.step) * panel.step : value;
      const places = rounds ? decimals(panel.step) : panel.drawn < 0.05 ? 2 : panel.drawn < 1 ? 1 : 0;
      return `${panel.title}${model ? ', model' : ''}: ${told.toFixed(places).replace('-', '\u2212')}`;
    });
    return [clock(at), ...parts].join(' \u00b7 ');
  };
  function show() {
    at = Math.min(Math.max(at, from), to);
    const scale = all / (to - from);
    const shift = place(0) - scale * L;
    for (const element of moving) element.setAttribute('transform', `matrix(${scale} 0 0 1 ${shift} 0)`);
    for (const [text, x] of ticks) {
      const moved = scale * x + shift;
      text.setAttribute('x', moved);
      text.style.display = moved < L - 1 || moved > R + 1 ? 'none' : '';
    }
    for (const end of ['x1', 'x2']) cursor.setAttribute(end, place(at));
    slider.value = at;
    said.textContent = read();
    slider.setAttribute('aria-valuetext', said.textContent);
  }
  const time = (event) => {
    const frame = svg.getBoundingClientRect();
    const x = (event.clientX - frame.left) / frame.width * svg.viewBox.baseVal.width;
    return from + Math.min(1, Math.max(0, (x - L) / (R - L))) * (to - from);
  };
  slider.addEventListener('input', () => {
    at = Number(slider.value);
    const width = to - from;
    if (at < from || at > to) { from = Math.min(Math.max(0, at - width / 2), all - width); to = from + width; }
    show();
  });
  let held;
  svg.addEventListener('pointerdown', (event) => { held = time(event); });
  svg.addEventListener('pointermove', (event) => { at = time(event); show(); });
  svg.addEventListener('pointerup', (event) => {
    const [a, b] = [held, time(event)].sort((p, q) => p - q);
    held = undefined;
    if (b - a > (to - from) / 30) { [from, to] = [a, b]; if (to - from < all / 40) zoom(1); else show(); }
  });
  svg.addEventListener('dblclick', () => zoom(Infinity));
  addEventListener('beforeprint', () => zoom(Infinity));
  show();
}
