import { drawCourse, nearest } from "./course.js";
import { drawing } from "./drawing.js";
import { loupe } from "./loupe.js";
import {
  $, element, json, oneAtATime, problemItem, share, shortened, showFigures,
} from "./parts.js";

const view = {
  frame: 0, look: 0, version: 0, title: "", error: "", before: false, marks: false, side: false,
  count: 1, // of frames shown
  held: null, // the frame that stays on the right
  against: "bare", // what it is compared with
};
let acting = []; // the parts of the recipe that can be left out
let figuresShown = null;
let set = { frames: [], looks: [], notes: [], course: [] };
let kept = null; // the point that stays, [x, y] in fractions of the frame
let pointed = null; // the one under the pointer
const nothing = { frame: -1, look: -1, version: -1, without: 0 };
let shown = nothing;

const saved = (frame) => ({ frame, look: view.look, version: view.version, without: 0 });
const wanted = (frame = view.frame) => (view.before ? compared(frame) : saved(frame));

/** What a frame is compared with. */
function compared(frame) {
  const [kind, name] = view.against.split(":");
  const key = saved(frame);
  if (kind === "bare") key.version = 0;
  if (kind === "save") key.version = Math.max(view.version - 1, 1);
  if (kind === "look") key.look = set.looks.indexOf(name);
  if (kind === "part") key.without = acting.indexOf(name) + 1;
  return key;
}

const fields = ["frame", "look", "version", "without"];
const same = (a, b) => fields.every((field) => a[field] === b[field]);
const item = (key) => key.look * set.frames.length + key.frame;
const address = (kind, key) => (
  `${kind}/${item(key)}/${key.version}${key.without ? `/without/${key.without}` : ""}`
);
const around = (frame) => (frame + set.frames.length) % set.frames.length;
const second = () => view.held ?? around(view.frame + 1);

const show = oneAtATime(async () => {
  if (!set.frames.length) return forget();
  const key = wanted();
  const stepped = key.frame !== shown.frame;
  if (stepped) $("picture").setAttribute("aria-busy", "true");
  try {
    const image = new Image();
    image.src = address("picture", key);
    const decoded = image.decode();
    decoded.catch(() => {}); // what went wrong is shown with the figures
    const figures = await json(address("figures", key));
    await decoded;
    if (key.frame !== view.frame) return;
    place(image, key, figures);
    report();
  } catch (error) {
    if (error.gone || !same(key, wanted())) return; // a newer version is on its way
    if (stepped) forget();
    report(error.message || "The picture could not be loaded.");
  } finally {
    $("picture").removeAttribute("aria-busy");
  }
  if (stepped) fetch(`ahead/${around(view.frame + view.count)}`);
});

/** Pictures beside the first one, without readings: other frames, or what it is compared with. */
function others() {
  if (!set.frames.length) return [];
  if (view.side) return [compared(view.frame)];
  if (view.count === 2) return [wanted(second())];
  const frames = Math.min(view.count, set.frames.length);
  return Array.from({ length: frames - 1 }, (_, i) => wanted(around(view.frame + i + 1)));
}

const showBesides = oneAtATime(async () => {
  const keys = others();
  const surround = $("picture").parentElement;
  surround.classList.toggle("two", keys.length === 1);
  surround.classList.toggle("four", keys.length > 1);
  const figures = await Promise.all(keys.map(beside));
  const now = others();
  if (now.length !== keys.length || keys.some((key, i) => !same(key, now[i]))) return;
  $("besides").replaceChildren(...figures);
});

async function beside(key, place) {
  const figure = document.createElement("figure");
  figure.className = "beside";
  const image = new Image();
  const name = set.frames[key.frame];
  image.alt = `${name}, ${stateOf(key) || view.title}`;
  image.dataset.frame = key.frame;
  image.dataset.version = key.version;
  image.src = address("picture", key);
  await image.decode().catch(() => image.removeAttribute("src"));
  const cannot = image.hasAttribute("src") ? "" : "cannot be shown";
  const said = [view.held !== null && "held", view.side && stateOf(key), cannot];
  figure.style.setProperty("--ratio", image.naturalWidth / image.naturalHeight || 1.5);
  const text = [shortened(name), ...said].filter(Boolean).join(", ");
  figure.append(image, element("figcaption", text));
  if (!view.side) figure.addEventListener("click", () => toFrame(key.frame));
  if (place === 0) figure.id = "beside";
  return figure;
}

/** How a picture differs from the recipe as it was saved last, in words. */
function stateOf(key) {
  if (key.version === 0) return "Without the recipe";
  if (key.without) return `Without ${acting[key.without - 1]}`;
  if (key.look !== view.look) return set.looks[key.look];
  return key.version < view.version && view.before ? "The save before" : "";
}

/** What the picture can be compared with. */
function offerComparisons() {
  const options = [new Option("no recipe", "bare"), new Option("the save before", "save")];
  set.looks.forEach((look, i) => {
    if (i !== view.look) options.push(new Option(`look ${look}`, `look:${look}`));
  });
  for (const part of acting) options.push(new Option(`without ${part}`, `part:${part}`));
  $("against").replaceChildren(...options);
  if (!options.some((option) => option.value === view.against)) view.against = "bare";
  $("against").value = view.against;
}

function showAll() {
  show();
  showBesides();
  $("frame").value = view.frame;
  $("number").textContent = set.frames.length ? view.frame + 1 : "–";
  const notes = set.notes[view.frame] ?? [];
  $("notes").replaceChildren(...notes.map((text) => element("li", text)));
  showCourse();
}

function showCourse() {
  $("course").hidden = set.course.length < 2;
  if ($("course").hidden) return;
  $("course-said").textContent = drawCourse($("course").querySelector("svg"), set.course, view.frame);
}

/** Take over what a new version has to show; the frame stays the one of its name. */
function adopt(next) {
  const names = (list) => list.join("\n");
  if (names(next.frames) !== names(set.frames)) {
    const kept = (frame) => next.frames.indexOf(set.frames[frame]);
    view.frame = Math.max(0, kept(view.frame));
    view.held = view.held === null || kept(view.held) < 0 ? null : kept(view.held);
    shown = nothing;
  }
  if (names(next.looks) !== names(set.looks)) {
    view.look = Math.max(0, next.looks.indexOf(set.looks[view.look]));
  }
  set = next;
  fill("frame", set.frames);
  fill("look", set.looks);
  $("look").value = view.look;
  $("looks").hidden = set.looks.length < 2;
  $("count").textContent = set.frames.length;
  const few = set.frames.length < 2;
  for (const id of ["previous", "next", "two", "four"]) $(id).disabled = few;
  offerComparisons();
}

function fill(id, names) {
  $(id).replaceChildren(...names.map((name, i) => {
    const option = new Option(shortened(name), i);
    option.title = name;
    return option;
  }));
}

/** Exchange the picture for a new one that is already decoded. */
function place(image, key, figures) {
  const name = set.frames[key.frame];
  image.id = "shown";
  image.alt = `${name}, ${stateOf(key) || view.title}`;
  image.draggable = false;
  image.dataset.version = key.version;
  image.dataset.frame = key.frame;
  $("shown").replaceWith(image);
  shown = key;
  $("picture").style.setProperty("--ratio", figures.width / figures.height);
  $("picture").ariaLabel = image.alt;
  showLabel();
  showFigures(figures);
  figuresShown = figures;
  offerMasks(figures.masks);
  closely.show();
  if (same(key, saved(key.frame)) && String(figures.acting) !== String(acting)) {
    acting = figures.acting;
    offerComparisons();
  }
  showMarks();
  read();
  showActing();
}

/** The masks of the recipe, to be seen over the picture or alone. */
function offerMasks(names) {
  const before = $("mask-of").value;
  const options = names.map((name, i) => new Option(name, i + 1));
  $("mask-of").replaceChildren(new Option("none", 0), ...options);
  $("mask-of").value = Number(before) <= names.length ? before || 0 : 0;
  $("masks").hidden = !names.length;
  showMask();
}

const showMask = oneAtATime(async () => {
  const [number, key] = [Number($("mask-of").value), shown];
  const hide = () => {
    $("mask").hidden = true;
  };
  $("mask-alone-label").hidden = !number;
  if (!number || key.frame < 0 || key.version === 0) return hide();
  const source = await json(`${address("mask", key)}/${number - 1}`).catch(() => "");
  if (!source) return hide();
  if (!same(key, shown) || number !== Number($("mask-of").value)) return;
  $("mask").style.setProperty("--mask", `url("${source}")`);
  $("mask").classList.toggle("alone", $("mask-alone").checked);
  $("mask").hidden = false;
});

function nextMask() {
  const select = $("mask-of");
  if (!select.length) return;
  select.selectedIndex = (select.selectedIndex + 1) % select.length;
  showMask();
}

function showLabel() {
  const stale = !$("trouble").hidden && shown.version > 0 ? "As it was before the error" : "";
  const name = view.count > 1 ? shortened(set.frames[shown.frame]) : "";
  const state = stateOf(shown) || stale;
  $("label").textContent = [name, state].filter(Boolean).join(": ");
}

/** A frame that cannot be shown must not leave another's picture under its name. */
function forget() {
  const image = new Image();
  image.id = "shown";
  image.alt = "";
  $("shown").replaceWith(image);
  $("marks").hidden = true;
  shown = nothing;
  showLabel();
  figuresShown = null;
  offerMasks([]);
  const channel = { black: "–", white: "–", bars: [] };
  showFigures({ channels: [channel, channel, channel], outside: "–", light: "–", warnings: [] });
  read();
}

async function showMarks() {
  $("key-marks").hidden = !view.marks;
  if (!view.marks || shown.frame < 0) {
    $("marks").hidden = true;
    return;
  }
  const key = shown;
  const source = await json(address("marks", key)).catch(() => "");
  if (!source || !same(key, shown)) return;
  $("marks").src = source;
  await $("marks").decode().catch(() => {});
  $("marks").hidden = !view.marks;
}

/** Say what is wrong with the recipe, or else with this frame; nothing if all is well. */
function report(problem = "") {
  const text = view.error || problem;
  $("trouble").hidden = !text;
  showLabel();
  if ($("trouble-list").dataset.text === text) return;
  $("trouble-list").dataset.text = text;
  $("trouble-title").textContent = troubleTitle();
  $("trouble-list").replaceChildren(...text.split("\n").map(problemItem));
}

function troubleTitle() {
  if (view.error) return "An error in the recipe";
  const opened = shown.frame === view.frame;
  return opened ? "The recipe does not fit this frame" : "This frame cannot be shown";
}

const read = oneAtATime(async () => {
  const point = pointed ?? kept;
  if (!point || shown.frame < 0) return showReading({ copy: {} });
  const [x, y] = point.map((value) => value.toFixed(4));
  const url = `${address("place", shown)}/${x}/${y}`;
  showReading(await json(url).catch(() => ({ copy: {} })));
});

/** Which keys change what is at the point that stays. */
const showActing = oneAtATime(async () => {
  const [point, key] = [kept, shown];
  $("acting").hidden = !point || key.frame < 0;
  if ($("acting").hidden) return;
  const [x, y] = point.map((value) => value.toFixed(4));
  const found = await json(`${address("influences", key)}/${x}/${y}`).catch(() => []);
  if (kept !== point || !same(key, shown)) return;
  const items = found.map(({ key: name, change }) => {
    const made = element("li", "");
    made.append(element("code", name), element("span", change));
    return made;
  });
  $("influences").replaceChildren(...(items.length ? items : [element("li", "no key")]));
});

const copyButtons = document.querySelectorAll("[data-copy]");
let copies = {};
let drawnText = "";

function showReading(reading) {
  copies = { ...reading.copy, drawn: drawnText };
  const values = { ...reading, "copy.place": copies.place };
  for (const field of $("place").querySelectorAll("[data-of]")) {
    field.textContent = values[field.dataset.of] ?? "–";
  }
  for (const button of copyButtons) button.disabled = !copies[button.dataset.copy];
  if (kept && !pointed) {
    const { scene, picture, hue, light } = reading;
    $("said").textContent = copies.place
      ? `${copies.place}: scene ${scene}, picture ${picture}, hue ${hue}, neutral under ${light}`
      : "";
  }
}

function keep(point) {
  kept = point;
  $("cross").toggleAttribute("hidden", !point);
  if (point) {
    $("cross").style.left = `${100 * point[0]}%`;
    $("cross").style.top = `${100 * point[1]}%`;
  }
  read();
  showActing();
}

function under(event) {
  if (closely.active) return closely.under(event.clientX, event.clientY);
  const box = $("picture").getBoundingClientRect();
  const x = (event.clientX - box.left) / box.width;
  const y = (event.clientY - box.top) / box.height;
  return [share(x), share(y)];
}

async function copy(what) {
  if (!copies[what]) return;
  try {
    await navigator.clipboard.writeText(copies[what]);
    $("status").textContent = `Copied ${copies[what]}`;
  } catch {
    $("status").textContent = `The browser does not allow copying: ${copies[what]}`;
  }
}

function step(by) {
  if (!set.frames.length) return;
  view.frame = around(view.frame + by);
  showAll();
}

const toFrame = (frame) => step(frame - view.frame);

function toLook(look) {
  if (!set.looks.length) return;
  view.look = look % set.looks.length;
  $("look").value = view.look;
  showAll();
}

function several(count) {
  if (set.frames.length < 2) return;
  view.count = view.count === count ? 1 : count;
  view.held = null;
  view.side = false;
  showLayout();
}

function sideBySide() {
  view.side = !view.side;
  view.count = 1;
  view.held = null;
  view.before = false;
  showLayout();
}

function showLayout() {
  const pressed = { two: view.count === 2, four: view.count === 4, side: view.side, hold: false };
  for (const [id, is] of Object.entries(pressed)) $(id).setAttribute("aria-pressed", is);
  $("before").setAttribute("aria-pressed", view.before);
  $("hold").hidden = view.count !== 2;
  showLabel();
  showAll();
}

function hold() {
  if (view.count !== 2) return;
  view.held = view.held === null ? second() : null;
  $("hold").setAttribute("aria-pressed", view.held !== null);
  showAll();
}

function toggle(name, button, work) {
  view[name] = !view[name];
  $(button).setAttribute("aria-pressed", view[name]);
  work();
}

const compare = () => toggle("before", "before", showAll);
const lines = () => toggle("grid", "show-grid", () => $("grid").toggleAttribute("hidden", !view.grid));

const closely = loupe({
  size: () => figuresShown?.full,
  address: (part) => `${address("window", shown)}/${part.join("/")}`,
});
let zoom = 0;

function see(next) {
  zoom = next === zoom ? 0 : next;
  if (zoom) {
    $("tool").value = "";
    chooseTool();
  }
  $("tool").disabled = zoom > 0;
  $("closely").setAttribute("aria-pressed", zoom === 1);
  $("closer").setAttribute("aria-pressed", zoom === 2);
  closely.set(zoom, kept ?? undefined);
}

const pen = drawing({
  place: under,
  async done(tool, points) {
    const path = points.map((point) => point.map((value) => value.toFixed(4)).join(",")).join(";");
    const answer = await json(`${address("drawn", shown)}/${tool}/${path}`).catch(() => null);
    if (!answer) return;
    drawnText = copies.drawn = answer.text;
    $("drawn").hidden = false;
    $("drawn-text").textContent = answer.text;
    copy("drawn");
  },
});

function chooseTool() {
  pen.choose($("tool").value);
  $("hint").textContent = $("tool").selectedOptions[0].dataset.hint ?? "";
}
const mark = () => toggle("marks", "show-marks", showMarks);

function move(event, x, y) {
  if (zoom && event.shiftKey) return closely.pan(0.2 * x, 0.2 * y);
  const by = event.shiftKey ? 0.001 : 0.01;
  const from = kept ?? [0.5, 0.5];
  pointed = null;
  keep(kept ? [share(from[0] + by * x), share(from[1] + by * y)] : from);
}

const keys = {
  PageUp: () => step(-1),
  PageDown: () => step(1),
  ArrowLeft: (event) => move(event, -1, 0),
  ArrowRight: (event) => move(event, 1, 0),
  ArrowUp: (event) => move(event, 0, -1),
  ArrowDown: (event) => move(event, 0, 1),
  Enter: () => (pen.active ? kept && pen.add(kept) : copy("place")),
  Escape: () => {
    pen.clear();
    keep(null);
  },
  " ": compare,
  m: mark,
  t: () => several(2),
  f: () => several(4),
  b: sideBySide,
  g: lines,
  0: () => see(0),
  1: () => see(1),
  2: () => see(2),
  k: nextMask,
  h: hold,
  l: () => toLook(view.look + 1),
};

$("picture").addEventListener("keydown", (event) => {
  const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  act(event);
});
$("picture").addEventListener("pointermove", (event) => {
  if (event.pointerType === "touch") return;
  pointed = under(event);
  read();
});
$("picture").addEventListener("pointerleave", () => {
  pointed = null;
  read();
});
$("picture").addEventListener("click", (event) => pen.active || keep(under(event)));
$("previous").addEventListener("click", () => step(-1));
$("next").addEventListener("click", () => step(1));
$("frame").addEventListener("change", () => toFrame(Number($("frame").value)));
$("look").addEventListener("change", () => toLook(Number($("look").value)));
$("two").addEventListener("click", () => several(2));
$("four").addEventListener("click", () => several(4));
$("side").addEventListener("click", sideBySide);
$("against").addEventListener("change", () => {
  view.against = $("against").value;
  showAll();
});
$("tool").addEventListener("change", chooseTool);
$("show-grid").addEventListener("click", lines);
$("closely").addEventListener("click", () => see(1));
$("closer").addEventListener("click", () => see(2));
$("mask-of").addEventListener("change", showMask);
$("mask-alone").addEventListener("change", showMask);
$("hold").addEventListener("click", hold);
$("course").querySelector("svg").addEventListener("click", (event) => {
  const frame = nearest(event.currentTarget, set.course, event.clientX);
  if (frame !== null) toFrame(frame);
});
new ResizeObserver(showCourse).observe($("course"));
$("before").addEventListener("click", compare);
$("show-marks").addEventListener("click", mark);
for (const button of copyButtons) {
  button.addEventListener("click", () => copy(button.dataset.copy));
}

let news = null;
let known = -1; // the version that was adopted last
const take = oneAtATime(async () => {
  const { version, title, error, work } = news;
  $("work").textContent = work;
  if (version !== known) {
    try {
      adopt(await json(`shown/${version}`));
      known = version;
    } catch {
      return; // a newer one is on its way
    }
  }
  Object.assign(view, { version, title, error: error ?? "" });
  document.title = $("title").textContent = title || $("title").textContent;
  $("status").textContent = "";
  report();
  if (!same(wanted(), shown)) showAll();
});

const events = new EventSource("events");
events.addEventListener("message", (event) => {
  news = JSON.parse(event.data);
  take();
});
events.addEventListener("error", () => {
  $("status").textContent = "The command has ended; this is its last picture.";
});
$("picture").focus();
