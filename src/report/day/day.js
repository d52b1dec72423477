"use strict";
// Moves through the day. Draws nothing anew: the tracks are stretched by their view boxes, the shelter's parts are put where
// the recorded values say.
(() => {
  const get = (id) => document.getElementById(id);
  const day = JSON.parse(get("day-data").textContent);
  const [timeline, cursor, selection, slider] = ["timeline", "cursor", "selection", "moment"].map(get);
  const tracks = [...timeline.querySelectorAll(".track")];
  const drawings = tracks.map((track) => track.querySelector(".plot svg"));
  const outputs = tracks.map((track) => track.querySelector(".head output"));
  const axes = [...timeline.querySelectorAll(".axis")];
  const scene = get("scene");
  const [left, high, scale, width, height] = ["left", "high", "scale", "width", "height"].map((key) => Number(scene.dataset[key]));
  const stops = [...new Set([...document.querySelectorAll('tbody a[href^="#t="]')]
    .map((link) => Number(link.hash.slice(3))))].sort((a, b) => a - b);
  const SHORTEST = 4; // seconds that the window shows at least
  let from = 0, to = day.length, now = day.start;

  const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
  // Number of entries of a sorted list that are not after x.
  const upTo = (list, x) => {
    let low = 0, top = list.length;
    while (low < top) {
      const middle = (low + top) >> 1;
      if (list[middle] <= x) low = middle + 1; else top = middle;
    }
    return low;
  };
  // Value of a series at a moment, as the tables define it: null for none.
  const at = (series, t) => {
    const place = upTo(series.t, t) - 1;
    if (place < 0) return null;
    const [value, next] = [series.v[place], place + 1];
    if (series.shape === "steps" || series.t[place] === t) return value;
    if (next >= series.t.length) return null;
    const other = series.v[next];
    if (typeof value !== "number" || typeof other !== "number") return value;
    return value + (other - value) * (t - series.t[place]) / (series.t[next] - series.t[place]);
  };
  // The reading nearest to a moment, if one is near enough to be told apart from it.
  const near = (series, t) => {
    const place = upTo(series.t, t);
    const reach = Math.max((to - from) / 400, 0.001);
    const [a, b] = [place - 1, place].map((p) => p >= 0 && p < series.t.length ? Math.abs(series.t[p] - t) : Infinity);
    if (Math.min(a, b) > reach) return undefined;
    return series.v[a <= b ? place - 1 : place];
  };
  const said = (value, unit, names) => {
    if (value === null || value === undefined) return "none";
    if (value === "far") return "far";
    if (names?.[value] !== undefined) return names[value];
    const text = String(Number(value.toPrecision(4)));
    return unit ? `${text} ${unit}` : text;
  };
  const stateAt = (name, t) => {
    const { t: times, v } = day.states[name];
    return v[upTo(times, t) - 1] ?? "";
  };
  const clock = (t, digits) => {
    const shift = day.wall[Math.max(upTo(day.wall.map(([since]) => since), t + 1e-6) - 1, 0)][1];
    const two = (value) => String(value).padStart(2, "0");
    // Whole milliseconds first: a second of 59.9996 is not 60.
    const millis = Math.round((t + shift) * 1000);
    const whole = Math.floor(millis / 1000);
    const text = `${two(Math.floor(whole / 3600) % 24)}:${two(Math.floor(whole / 60) % 60)}`;
    if (digits < 0) return text;
    return `${text}:${two(whole % 60)}${digits > 0 ? "." + String(millis % 1000).padStart(3, "0").slice(0, digits) : ""}`;
  };
  const digits = () => (to - from < 60 ? 2 : to - from < 600 ? 1 : 0);

  // Width of the axes on paper, pixels: that of a sheet is not known beforehand, this is A4's.
  const PAPER = 600;
  const drawAxes = (room = axes[0].clientWidth) => {
    const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 10800, 21600];
    // Seconds need more room than minutes.
    const fits = (s) => (to - from) / s <= room / (s < 1 ? 88 : s < 60 ? 72 : 52);
    const step = steps.find(fits) ?? 21600;
    const labels = [];
    const wide = step < 1 ? 84 : step < 60 ? 68 : 46;
    let taken = -Infinity;
    for (let n = Math.ceil(from / step - 1e-9); n * step <= to + 1e-9; n++) {
      const place = 100 * (n * step - from) / (to - from);
      const label = document.createElement("span");
      label.style.left = `${place}%`;
      // At the edges they would hang over, or lie over the next.
      const aside = place < 4 ? 0 : place > 96 ? 100 : 50;
      label.style.transform = `translateX(-${aside}%)`;
      const begins = place / 100 * room - aside / 100 * wide;
      if (begins < taken) continue;
      taken = begins + wide;
      label.textContent = n * step === day.length ? "24:00" : clock(n * step, step < 1 ? 1 : step < 60 ? 0 : -1);
      labels.push(label);
    }
    axes.forEach((axis, index) => axis.replaceChildren(...labels.map((label) => (index ? label.cloneNode(true) : label))));
  };

  const show = (element, visible) => {
    if (visible) element.removeAttribute("display"); else element.setAttribute("display", "none");
  };
  const put = (label, x, up) => {
    label.hidden = x === null;
    if (x === null) return;
    const place = 100 * (x - left) * scale / width;
    const tall = 100 * (high - up) * scale / height;
    label.hidden = place < 0 || place > 100 || tall < 0 || tall > 100;
    label.style.left = `${clamp(place, 6, 94)}%`;
    label.style.top = `${tall}%`;
  };
  const number = (index) => {
    const value = index === null || index === undefined ? null : at(day.series[index], now);
    return typeof value === "number" ? value : null;
  };
  const drawScene = () => {
    const nose = number(day.scene.nose);
    const mower = get("mower");
    show(mower, nose !== null);
    const body = mower.querySelector("rect");
    const aside = number(day.scene.sideways) ?? 0;
    if (nose !== null) mower.setAttribute("transform", `translate(${(nose * scale).toFixed(2)} ${(-aside * scale).toFixed(2)})`);
    const top = high - Number(body.getAttribute("y")) / scale + aside;
    put(get("mower-label"), nose === null ? null : nose + Number(body.getAttribute("width")) / scale / 2, top);
    const ends = day.scene.pose.map(number);
    if (ends.every((value) => value !== null)) {
      const panel = get("panel");
      panel.setAttribute("x1", ((ends[0] - left) * scale).toFixed(2));
      panel.setAttribute("y1", ((high - ends[1]) * scale).toFixed(2));
      panel.setAttribute("x2", ((ends[2] - left) * scale).toFixed(2));
      panel.setAttribute("y2", ((high - ends[3]) * scale).toFixed(2));
    }
    const others = [];
    for (const [series, name, kind, sideways] of day.scene.visitors) {
      const x = number(series);
      const shape = get(`visitor-${kind}`);
      show(shape, x !== null);
      const half = Number(shape.dataset.half);
      const y = number(sideways);
      const top = y === null ? Number(shape.dataset.tall) : y + half;
      if (x !== null) {
        shape.setAttribute("y", ((high - top) * scale).toFixed(2));
        shape.setAttribute("x", ((x - half - left) * scale).toFixed(2));
        others.push(`${name} ${said(x, "m")} from the door line`);
      }
      put(get(`visitor-label-${kind}`), x, top);
    }
    day.sensors.forEach((sensor, index) => {
      const on = sensor.on.filter(([series]) => at(day.series[series], now) === 1).map(([, name]) => name);
      get(`view-${index}`)?.classList.toggle("on", on.length > 0);
      const { unit, names } = day.series[sensor.reading];
      const drawn = near(day.series[sensor.reading], now);
      const likeliest = said(at(day.series[sensor.likeliest], now), unit, names);
      const text = drawn !== undefined ? said(drawn, unit, names) : unit && /\d/.test(likeliest) ? `about ${likeliest}` : likeliest;
      const item = get(`sensor-${index}`);
      item.classList.toggle("on", on.length > 0);
      item.querySelector("output").textContent = `${text}; ${on.length ? on.join(", ") + " on" : "off"}`;
    });
    const parts = [
      nose === null ? "Mower: out of sight, " + stateAt("mower state", now) : `Mower: ${stateAt("mower state", now)}, nose at ${said(nose, "m")}`,
      `door ${said(number(day.scene.door), "%")} of its stroke`,
      `controller: ${stateAt("controller state", now)}`,
      ...others,
    ];
    get("state").textContent = parts.join("; ") + ".";
  };

  const draw = () => {
    const text = clock(now, digits());
    get("clock").textContent = text;
    get("when").textContent = text;
    drawings.forEach((drawing) => drawing.setAttribute("viewBox", `${from} 0 ${to - from} 100`));
    drawAxes();
    [slider.min, slider.max] = [from, to];
    slider.value = now;
    slider.setAttribute("aria-valuetext", `${text}; ${stateAt("mower state", now)}; door ${said(number(day.scene.door), "%")}`);
    const plot = axes[0];
    const inside = now >= from && now <= to;
    cursor.hidden = !inside;
    cursor.style.left = `${plot.offsetLeft + plot.clientWidth * (now - from) / (to - from)}px`;
    tracks.forEach((_, index) => {
      const { read, states } = day.tracks[index];
      const words = states ? [stateAt(states, now)] : read.flatMap(([series, name]) => {
        const it = day.series[series];
        const value = it.shape === "dots" ? near(it, now) : at(it, now);
        if (value === undefined || (value === null && read.length > 1 && !it.names)) return [];
        // Of switches only those that are on, by name.
        if (!it.unit && it.shape === "steps") return value === 1 ? [name] : [];
        return [`${name ? name + " " : ""}${said(value, it.unit, it.names)}`];
      });
      outputs[index].textContent = words.join(" · ");
    });
    drawScene();
    Object.assign(document.body.dataset, { from, to, now });
  };

  const look = (a, b) => {
    const span = clamp(b - a, SHORTEST, day.length);
    from = clamp((a + b - span) / 2, 0, day.length - span);
    to = from + span;
  };
  const goTo = (t) => {
    now = clamp(t, 0, day.length);
    if (now < from || now > to) look(now - (to - from) / 2, now + (to - from) / 2);
    draw();
  };
  const zoom = (factor) => {
    const middle = now >= from && now <= to ? now : (from + to) / 2;
    look(middle - (middle - from) * factor, middle + (to - middle) * factor);
    draw();
  };
  const shift = (share) => {
    const by = share * (to - from);
    look(from + by, to + by);
    draw();
  };
  const event = (way) => {
    const next = way > 0 ? stops[upTo(stops, now + 5e-4)] : stops[upTo(stops, now - 1e-3) - 1];
    if (next !== undefined) goTo(next);
  };
  // To the next recorded point of any series shown in the window.
  const point = (way) => {
    let best = null;
    for (const series of day.series) {
      const place = way > 0 ? upTo(series.t, now + 5e-4) : upTo(series.t, now - 5e-4) - 1;
      const t = series.t[place];
      if (t !== undefined && (best === null || (t - best) * way < 0)) best = t;
    }
    if (best !== null) goTo(best);
  };
  const acts = {
    in: () => zoom(1 / 3), out: () => zoom(3), left: () => shift(-0.5), right: () => shift(0.5),
    all: () => { look(0, day.length); draw(); }, before: () => event(-1), after: () => event(1),
  };
  get("controls").hidden = false;
  get("controls").addEventListener("click", (click) => acts[click.target.dataset.act]?.());
  slider.addEventListener("input", () => goTo(Number(slider.value)));
  timeline.addEventListener("keydown", (press) => {
    const step = (to - from) / 200;
    const keys = {
      ArrowLeft: () => (press.shiftKey ? point(-1) : goTo(now - step)),
      ArrowRight: () => (press.shiftKey ? point(1) : goTo(now + step)),
      PageUp: acts.before, PageDown: acts.after, Home: () => goTo(from), End: () => goTo(to),
      "+": acts.in, "=": acts.in, "-": acts.out, 0: acts.all,
    };
    if (press.ctrlKey || press.metaKey || press.altKey || !keys[press.key]) return;
    press.preventDefault();
    keys[press.key]();
  });

  // Drag over a stretch to zoom in on it; a click or a resting pointer reads a moment.
  const placeOf = (pointer) => {
    const box = axes[0].getBoundingClientRect();
    return from + (to - from) * clamp((pointer.clientX - box.left) / box.width, 0, 1);
  };
  let began = null;
  timeline.addEventListener("pointerdown", (pointer) => {
    if (pointer.button !== 0 || !pointer.target.closest(".plot")) return;
    began = { x: pointer.clientX, t: placeOf(pointer) };
    if (pointer.pointerType === "mouse") timeline.setPointerCapture(pointer.pointerId);
  });
  timeline.addEventListener("pointermove", (pointer) => {
    if (began === null) {
      if (pointer.pointerType === "mouse" && pointer.target.closest(".plot")) goTo(placeOf(pointer));
      return;
    }
    const box = timeline.getBoundingClientRect();
    const [a, b] = [began.x, pointer.clientX].map((x) => x - box.left).sort((one, other) => one - other);
    selection.hidden = b - a < 8;
    Object.assign(selection.style, { left: `${a}px`, width: `${b - a}px` });
  });
  const release = (pointer) => {
    if (began === null) return;
    const [start, end] = [began, placeOf(pointer)];
    began = null;
    selection.hidden = true;
    if (pointer.type === "pointercancel") return;
    if (Math.abs(pointer.clientX - start.x) < 8) { goTo(end); return; }
    look(Math.min(start.t, end), Math.max(start.t, end));
    now = clamp(now, from, to);
    draw();
  };
  timeline.addEventListener("pointerup", release);
  timeline.addEventListener("pointercancel", release);

  // #t=SECONDS goes to a moment; #t=SECONDS&from=SECONDS&to=SECONDS also chooses the window.
  const follow = () => {
    const asked = new URLSearchParams(location.hash.slice(1));
    const t = Number.parseFloat(asked.get("t"));
    if (!Number.isFinite(t)) return;
    const [a, b] = ["from", "to"].map((key) => Number.parseFloat(asked.get(key)));
    if (Number.isFinite(a) && Number.isFinite(b) && a < b) look(a, b); else if (to - from > 600) look(t - 60, t + 60);
    goTo(t);
    // With motion only for those who like it: the style says so.
    get("controls").scrollIntoView();
  };
  addEventListener("hashchange", follow);
  addEventListener("resize", () => draw());
  addEventListener("beforeprint", () => drawAxes(PAPER));
  addEventListener("afterprint", () => draw());
  draw();
  follow();
})();
