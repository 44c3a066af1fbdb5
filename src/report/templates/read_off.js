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
  // Steps and values are counted from the point before, and a value alone is one step on.
  const [stepped, ...written] = box.closest('figure').dataset.values.split('|');
  const second = Number(stepped);
  const lines = written.map((line) => {
    const [panel, ink, decimals, stretches] = line.split(';');
    const read = (stretch) => {
      let [index, value] = [0, 0];
      return stretch.split(',').map((token) => {
        const [steps, by] = token.includes(':') ? token.split(':') : [1, token];
        index += Number(steps);
        value += Number(by);
        return [(index + 0.5) * second, value / 10 ** decimals];
      });
    };
    return { panel: panels[panel], ink, model: ink === 'model', stretches: stretches ? stretches.split('/').map(read) : [] };
  });
  // The drawing counts in half pixels.
  const [L, R] = [2 * left, 2 * right];
  const all = Number(length);
  const first = 2 * panels[0].top;
  // A minute, or a fortieth of a short session.
  const least = Math.min(1, all / 40);
  let from = 0, to = all, at = all / 2;

  // What lies between the left and the right edge moves with time; the lines are drawn anew.
  const moving = [], ticks = [], still = [];
  for (const path of svg.querySelectorAll('path')) {
    const numbers = (path.getAttribute('d').match(/-?\d+/g) ?? []).map(Number);
    let [x, y] = numbers;
    const points = [[x, y]];
    for (let i = 2; i < numbers.length; i += 2) points.push([x += numbers[i], y += numbers[i + 1]]);
    const within = (point) => panels.some((p) => point[1] >= 2 * p.top - 1 && point[1] <= 2 * p.bottom + 1);
    if (/s-(measured|model|residual)/.test(path.getAttribute('class'))) {
      if (points.every(within)) still.push(path);
    } else if (points[0][0] === points.at(-1)[0]) moving.push(path);
  }
  for (const rect of svg.querySelectorAll('rect')) moving.push(rect);
  const last = panels.at(-1);
  for (const text of svg.querySelectorAll('text[text-anchor=middle]')) {
    if (text.getAttribute('y') > 2 * last.bottom) ticks.push(text);
  }
  const clip = document.createElementNS(NS, 'clipPath');
  clip.id = `clip-${Math.random().toString(36).slice(2)}`;
  const hole = document.createElementNS(NS, 'rect');
  for (const [key, value] of Object.entries({ x: L, y: 0, width: R - L, height: svg.viewBox.baseVal.height })) hole.setAttribute(key, value);
  clip.append(hole);
  svg.prepend(clip);
  const clipped = (element) => {
    const group = document.createElementNS(NS, 'g');
    group.setAttribute('clip-path', `url(#${clip.id})`);
    if (element.parentNode) element.replaceWith(group); else svg.append(group);
    group.append(element);
    return element;
  };
  for (const element of moving) clipped(element).setAttribute('vector-effect', 'non-scaling-stroke');
  for (const line of lines) {
    line.path = clipped(document.createElementNS(NS, 'path'));
    line.path.setAttribute('class', `s-${line.ink}`);
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
    const width = Math.min(all, Math.max(least, (to - from) * factor));
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
  help.textContent = 'The slider or the pointer moves the cursor; drawing across a stretch zooms to it. Values are means of a second, in the steps of the sensor.';
  const marks = document.createElementNS(NS, 'g');
  svg.append(marks);
  const cursor = make('svg:line', svg, { class: 's-zero', y1: first, y2: 2 * last.bottom });

  const decimals = (step) => Math.min(3, (String(Number(step.toPrecision(6))).split('.')[1] ?? '').length);
  const place = (t) => L + (t - from) / (to - from) * (R - L);
  const clock = (t) => `${Math.floor(t)}:${String(Math.floor(t * 60 % 60)).padStart(2, '0')}`;
  const read = () => {
    // As near as a mark on the drawing, or a step of the values, whichever is more.
    const near = Math.max(second, (to - from) / (R - L) * 4);
    const parts = lines.flatMap(({ stretches, panel, model }) => {
      const points = stretches.find((s) => at >= s[0][0] - near && at <= s.at(-1)[0] + near);
      if (!points) return [];
      const [, value] = points.reduce((best, point) => Math.abs(point[0] - at) < Math.abs(best[0] - at) ? point : best);
      const rounds = panel.step && !model;
      const told = rounds ? panel.zero + Math.round((value - panel.zero) / panel.step) * panel.step : value;
      const places = rounds ? decimals(panel.step) : panel.drawn < 0.05 ? 2 : panel.drawn < 1 ? 1 : 0;
      return [`${panel.title}${model ? ', model' : ''}: ${told.toFixed(places).replace('-', '\u2212')}`];
    });
    return [`${clock(at)} min`, ...parts].join(' \u00b7 ');
  };
  const height = (panel, value) => 2 * (panel.bottom - (value - panel.low) / (panel.high - panel.low) * (panel.bottom - panel.top));
  /** Minutes to be marked below a zoomed drawing: the finest round steps that leave room for their labels. */
  const times = () => {
    const step = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800].map((s) => s / 60)
      .find((s) => s / (to - from) * (R - L) > 130) ?? 60;
    const marked = [];
    for (let i = Math.ceil(from / step); place(i * step) < R - 24; i += 1) marked.push(i * step);
    return marked;
  };
  const mark = (t) => {
    const text = ticks[0].cloneNode();
    text.style.display = '';
    text.setAttribute('x', place(t).toFixed(1));
    text.textContent = clock(t + second / 10);
    return text;
  };
  /** A line between the edges of the window, and one point beyond each. */
  const drawn = ({ stretches, panel }) => stretches.map((stretch) => {
    const first = Math.max(0, stretch.findIndex((point) => point[0] >= from) - 1);
    const beyond = stretch.findIndex((point) => point[0] > to);
    if (stretch.at(-1)[0] < from || stretch[0][0] > to) return '';
    return stretch.slice(first, beyond < 0 ? undefined : beyond + 1)
      .map(([t, value], i) => `${i ? 'L' : 'M'}${place(t).toFixed(1)} ${height(panel, value).toFixed(1)}`).join('');
  }).join('');
  function show() {
    at = Math.min(Math.max(at, from), to);
    const scale = all / (to - from);
    const shift = place(0) - scale * L;
    for (const element of moving) element.setAttribute('transform', `matrix(${scale} 0 0 1 ${shift} 0)`);
    for (const path of still) path.style.display = scale > 1 ? 'none' : '';
    for (const line of lines) line.path.setAttribute('d', scale > 1 ? drawn(line) : '');
    for (const text of ticks) text.style.display = scale > 1 ? 'none' : '';
    marks.replaceChildren(...(scale > 1 ? times().map(mark) : []));
    for (const end of ['x1', 'x2']) cursor.setAttribute(end, place(at));
    slider.step = (to - from) / 500;
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
    if (b - a > (to - from) / 30) { [from, to] = [a, b]; if (to - from < least) zoom(1); else show(); }
  });
  svg.addEventListener('dblclick', () => zoom(Infinity));
  addEventListener('beforeprint', () => zoom(Infinity));
  show();
}
