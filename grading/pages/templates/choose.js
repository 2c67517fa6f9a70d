import { cropped, leaning, shownBox, turned } from "./framing.js";
import { $, element, json, oneAtATime, share, shortened } from "./parts.js";

const KEPT = 14; // pictures
const view = { frame: 0, detail: false, together: false, tool: "", place: null };
let set = { frames: [], series: [], measured: 0, version: null };

const present = () => set.frames[view.frame];
const entryOf = (frame) => frame.entry ?? {};
const isSaid = ({ entry }) => entry !== null && !entry.proposed && Boolean(entry.mark || entry.leave_out);
const seriesOf = (i) => set.series.find((series) => series.frames.includes(i));

/* pictures: kept decoded, the next ones asked for ahead */

const pictures = new Map();

function picture(kind, i) {
  const url = `${kind}/${i}`;
  const known = pictures.get(url);
  if (known) {
    pictures.delete(url);
    pictures.set(url, known);
    return known;
  }
  const image = new Image();
  image.src = url;
  image.draggable = false;
  image.ready = image.decode().catch(() => image.removeAttribute("src"));
  pictures.set(url, image);
  for (const key of pictures.keys()) {
    if (pictures.size <= KEPT) break;
    pictures.delete(key);
  }
  return image;
}

function detail(i, place) {
  if (!place) return picture("sharpest", i);
  return picture(`detail/${i}`, place.map((value) => value.toFixed(4)).join("/"));
}

/* what is seen */

const show = oneAtATime(async () => {
  if (!set.frames.length) return;
  const [i, wanted] = [view.frame, members()];
  const images = wanted.map((n) => (view.detail ? detail(n, view.place) : picture("picture", n)));
  await Promise.all(images.map((image) => image.ready));
  if (i !== view.frame || String(wanted) !== String(members())) return;
  $("stage").classList.toggle("together", wanted.length > 1);
  $("stage").replaceChildren(...images.map((image, n) => seen(image, wanted[n])));
  $("stage").dataset.frame = i;
  describe();
  for (const next of ahead(3)) picture("picture", next);
  for (const n of seriesOf(i)?.frames ?? []) picture(view.detail ? "sharpest" : "picture", n);
});

/** Numbers of the frames that are seen: one, or those of its series. */
function members() {
  const series = view.together && seriesOf(view.frame);
  if (!series) return [view.frame];
  const at = series.frames.indexOf(view.frame);
  const from = Math.max(0, Math.min(at - 1, series.frames.length - 4));
  return series.frames.slice(from, from + 4);
}

function seen(image, i) {
  const frame = set.frames[i];
  const holder = element("figure", "");
  holder.classList.toggle("current", i === view.frame);
  const inner = element("div", "");
  inner.className = "held";
  image.alt = said(frame);
  const ratio = image.naturalWidth / image.naturalHeight || 1.5;
  holder.style.setProperty("--ratio", ratio);
  inner.append(image);
  if (!view.detail) {
    const framing = entryOf(frame).framing;
    image.style.transform = `rotate(${-(framing?.straighten ?? 0)}deg)`;
    inner.append(frameBox(framing, ratio));
  } else {
    image.style.transform = "";
  }
  const text = [shortened(frame.name), frame.problem].filter(Boolean).join(": ");
  holder.append(inner, element("figcaption", members().length > 1 || frame.problem ? text : ""));
  if (i !== view.frame) holder.addEventListener("click", () => go(i));
  return holder;
}

function frameBox(framing, ratio) {
  const box = element("div", "");
  box.className = "box";
  const { left, top, right, bottom } = shownBox(framing, ratio);
  box.hidden = !framing;
  Object.assign(box.style, {
    left: `${100 * left}%`, top: `${100 * top}%`,
    right: `${100 * (1 - right)}%`, bottom: `${100 * (1 - bottom)}%`,
  });
  return box;
}

/** A frame and what is said of it, in words. */
function said(frame) {
  const entry = entryOf(frame);
  const parts = [frame.name];
  if (entry.leave_out) parts.push("left out");
  if (entry.mark) parts.push(`mark ${entry.mark}`);
  if (parts.length === 1) parts.push("nothing said");
  if (entry.proposed) parts.push("proposed");
  return parts.join(", ");
}

function describe() {
  const frame = present();
  const entry = entryOf(frame);
  $("view").ariaLabel = said(frame);
  $("name").textContent = shortened(frame.name);
  $("capture").textContent = frame.capture.join(", ");
  $("against").replaceChildren(...frame.against.map((text) => element("li", text)));
  $("series").textContent = seriesInWords();
  for (const button of document.querySelectorAll("[data-mark]")) {
    button.setAttribute("aria-pressed", entry.mark === Number(button.dataset.mark));
  }
  $("leave").setAttribute("aria-pressed", entry.leave_out === true);
  $("proposed").hidden = !entry.proposed;
  $("turned").textContent = `${(entry.framing?.straighten ?? 0).toFixed(1)}°`;
  $("together").disabled = !seriesOf(view.frame);
  $("measured").disabled = !frame.straighten;
  $("facts").replaceChildren(...frame.facts.map(([what, much]) => {
    const row = element("div", "");
    row.append(element("dt", what), element("dd", much));
    return row;
  }));
  for (const id of ["detail", "together"]) $(id).setAttribute("aria-pressed", view[id]);
  for (const id of ["level", "crop"]) $(id).setAttribute("aria-pressed", view.tool === id);
  $("view").classList.toggle("draws", view.tool !== "");
  drawEvening();
  const count = set.frames.filter(isSaid).length;
  const measured = set.measured < set.frames.length ? `, ${set.measured} measured` : "";
  $("progress").textContent = `${count} of ${set.frames.length} said${measured}`;
}

function seriesInWords() {
  const series = seriesOf(view.frame);
  if (!series) return "";
  const at = series.frames.indexOf(view.frame) + 1;
  const best = series.best === view.frame ? "; the sharpest" : "";
  return `${series.kind}, ${at} of ${series.frames.length}${best}`;
}

/* the evening: each frame at its time */

const SVG = "http://www.w3.org/2000/svg";

function mark(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

const placeOf = (i) => ((i + 0.5) / set.frames.length) * 1000;

function drawEvening() {
  const svg = $("evening");
  svg.setAttribute("viewBox", "0 0 1000 60");
  const width = Math.min(10, 700 / set.frames.length);
  const parts = [mark("rect", {
    class: "present", x: placeOf(view.frame) - 500 / set.frames.length, y: 0,
    width: 1000 / set.frames.length, height: 60,
  })];
  for (const series of set.series) {
    const ends = [series.frames[0], series.frames.at(-1)].map(placeOf);
    parts.push(mark("rect", {
      class: "linked", x: ends[0] - width / 2, y: 55, width: ends[1] - ends[0] + width, height: 3,
    }));
  }
  set.frames.forEach((frame, i) => {
    const entry = entryOf(frame);
    const height = entry.leave_out ? 8 : entry.mark ? 8 * entry.mark + 4 : 3;
    const kind = entry.leave_out ? "out" : entry.mark ? "marked" : "unsaid";
    parts.push(mark("rect", {
      class: `${kind}${entry.proposed ? " proposed" : ""}`, x: placeOf(i) - width / 2,
      y: 50 - height, width, height,
    }));
  });
  svg.replaceChildren(...parts);
  const frame = present();
  const clock = frame.time ? `, ${frame.time.slice(11, 19)}` : "";
  $("where").textContent = `${view.frame + 1} of ${set.frames.length}${clock}`;
}

/* going */

const filters = {
  all: () => true,
  unsaid: (frame) => !isSaid(frame),
  marked: (frame) => Boolean(entryOf(frame).mark),
  out: (frame) => entryOf(frame).leave_out === true,
  against: (frame) => frame.against.length > 0,
  best: (_, i) => seriesOf(i)?.best === i,
};

const passes = (i) => filters[$("which").value](set.frames[i], i);

function step(by) {
  for (let i = view.frame + by; i >= 0 && i < set.frames.length; i += by) {
    if (passes(i)) return go(i);
  }
  $("note").textContent = by > 0 ? "No frame after this one" : "No frame before this one";
}

function ahead(count) {
  const found = [];
  for (let i = view.frame + 1; i < set.frames.length && found.length < count; i++) {
    if (passes(i)) found.push(i);
  }
  return found;
}

function go(i) {
  view.frame = i;
  view.place = null;
  $("note").textContent = "";
  show();
}

/* saying: shown at once, kept one after the other */

const ENDED = "The command has ended, so nothing is kept any more. Start it again, and this page from its address.";

let last = Promise.resolve();
let undoing = null;

function say(change, goesOn = true) {
  const [i, frame] = [view.frame, present()];
  const entry = { ...entryOf(frame), ...change };
  delete entry.proposed;
  for (const key of Object.keys(entry)) if (!entry[key]) delete entry[key];
  frame.entry = Object.keys(entry).length ? entry : null;
  $("note").textContent = "";
  send(`say/${i}`, entry);
  if (goesOn) step(1);
  show();
}

async function post(url, value) {
  const answer = await fetch(url, {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(value),
  });
  const body = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Error(body.error ?? "It could not be kept.");
  return body;
}

/** Send a change after those before it; what could not be kept is told, and what is so, shown. */
function send(url, value, then = () => {}) {
  last = last.then(() => post(url, value)).then(then).catch((error) => {
    tell(error);
    load().catch(() => {}); // not waited for: it waits for this
  });
  return last;
}

function tell(error) {
  $("note").textContent = error instanceof TypeError || error.gone ? ENDED : error.message;
}

function undo() {
  undoing = send("undo", {}, ({ frame, entry }) => {
    if (frame === null) {
      $("note").textContent = "There is nothing to undo";
      return;
    }
    set.frames[frame].entry = entry;
    go(frame);
  }).then(() => { undoing = null; });
}

/** Do what a person asks for, but first go where the last undo leads. */
function act(what) {
  if (undoing) undoing.then(() => act(what));
  else what();
}

const leave = () => say({ leave_out: true, mark: null });
const give = (mark) => say({ mark, leave_out: false });
const take = () => (entryOf(present()).proposed ? say({}) : step(1));

function frameAs(framing) {
  say({ framing }, false);
}

function turnBy(angle) {
  const framing = entryOf(present()).framing;
  frameAs(turned(framing, (framing?.straighten ?? 0) + angle));
}

/* drawing */

let from = null;

function under(event) {
  const box = $("stage").querySelector(".current .held").getBoundingClientRect();
  return [
    share((event.clientX - box.left) / box.width),
    share((event.clientY - box.top) / box.height),
    event.clientX, event.clientY,
  ];
}

$("view").addEventListener("pointerdown", (event) => {
  if (!view.tool || event.button || !set.frames.length) return;
  event.preventDefault();
  $("view").focus();
  $("view").setPointerCapture(event.pointerId);
  from = under(event);
});
$("view").addEventListener("pointermove", (event) => from && drawGuide(from, under(event)));
$("view").addEventListener("pointerup", (event) => {
  if (!from) return;
  const [a, b] = [from, under(event)];
  stopDrawing();
  const framing = entryOf(present()).framing;
  if (Math.hypot(b[2] - a[2], b[3] - a[3]) < 10) return;
  if (view.tool === "level") {
    const lean = leaning(a.slice(2), b.slice(2));
    frameAs(turned(framing, (framing?.straighten ?? 0) + lean));
  } else {
    frameAs(cropped(framing, a, b));
  }
});
$("view").addEventListener("pointercancel", stopDrawing);

function drawGuide(a, b) {
  const held = $("stage").querySelector(".current .held");
  held.querySelector("svg")?.remove();
  const svg = mark("svg", { viewBox: "0 0 1 1", preserveAspectRatio: "none", class: "drawn" });
  for (const kind of ["dark", "light"]) {
    svg.append(view.tool === "level"
      ? mark("line", { class: kind, x1: a[0], y1: a[1], x2: b[0], y2: b[1] })
      : mark("rect", {
        class: kind, x: Math.min(a[0], b[0]), y: Math.min(a[1], b[1]),
        width: Math.abs(a[0] - b[0]), height: Math.abs(a[1] - b[1]),
      }));
  }
  held.append(svg);
}

function stopDrawing() {
  from = null;
  $("stage").querySelector("svg.drawn")?.remove();
}

function tool(name) {
  view.tool = view.tool === name ? "" : name;
  view.detail = false;
  stopDrawing();
  show();
}

/* pixel for pixel */

function toggle(name) {
  view[name] = !view[name];
  view.tool = "";
  show();
}

function move(x, y) {
  const place = view.place ?? present().place ?? [0.5, 0.5];
  view.place = [share(place[0] + 0.05 * x), share(place[1] + 0.05 * y)];
  show();
}

const keys = {
  ArrowLeft: (event) => (event.shiftKey && view.detail ? move(-1, 0) : step(-1)),
  ArrowRight: (event) => (event.shiftKey && view.detail ? move(1, 0) : step(1)),
  ArrowUp: (event) => event.shiftKey && view.detail && move(0, -1),
  ArrowDown: (event) => event.shiftKey && view.detail && move(0, 1),
  " ": () => step(1),
  Enter: take,
  Delete: leave,
  Backspace: undo,
  d: () => toggle("detail"),
  s: () => seriesOf(view.frame) && toggle("together"),
  w: () => {
    $("which").selectedIndex = ($("which").selectedIndex + 1) % $("which").length;
    chooseWhich();
  },
  ",": () => turnBy(0.1),
  ".": () => turnBy(-0.1),
  g: () => tool("level"),
  c: () => tool("crop"),
  Escape: () => {
    stopDrawing();
    view.tool = "";
    show();
  },
};
for (let mark = 1; mark <= 5; mark++) keys[mark] = () => give(mark);

function chooseWhich() {
  if (!passes(view.frame)) {
    const next = set.frames.findIndex((_, i) => passes(i));
    if (next >= 0) return go(next);
    $("note").textContent = "There are no such frames";
  }
  show();
}

$("view").addEventListener("keydown", (event) => {
  const asked = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!asked || event.ctrlKey || event.metaKey || event.altKey || !set.frames.length) return;
  event.preventDefault();
  act(() => asked(event));
});
const actions = {
  leave, undo, take, previous: () => step(-1), skip: () => step(1),
  nothing: () => say({ mark: null, leave_out: false, framing: null }, false),
  detail: () => toggle("detail"), together: () => toggle("together"),
  level: () => tool("level"), crop: () => tool("crop"), unframe: () => frameAs(null),
  measured: () => frameAs(turned(entryOf(present()).framing, present().straighten)),
};
for (const [id, asked] of Object.entries(actions)) {
  $(id).addEventListener("click", () => {
    act(asked);
    $("view").focus();
  });
}
for (const button of document.querySelectorAll("[data-mark]")) {
  button.addEventListener("click", () => {
    act(() => give(Number(button.dataset.mark)));
    $("view").focus();
  });
}
$("which").addEventListener("change", chooseWhich);
$("evening").addEventListener("click", (event) => {
  const box = $("evening").getBoundingClientRect();
  const at = (event.clientX - box.left) / box.width;
  go(Math.min(Math.floor(at * set.frames.length), set.frames.length - 1));
});

/* news: measures as they come, and what other programs say */

async function load() {
  let next, said;
  do { // again where something was said meanwhile, which the answer does not hold
    said = last;
    await said;
    next = await json("frames");
  } while (said !== last);
  const first = !set.frames.length;
  set = next;
  if (first) view.frame = Math.max(0, set.frames.findIndex((frame) => !isSaid(frame)));
  if (set.frames.length) await show();
}

async function watch() {
  await load().catch(tell);
  setTimeout(watch, set.measured < set.frames.length ? 1000 : 4000);
}

watch();
$("view").focus();
