const NAMESPACE = "http://www.w3.org/2000/svg";
const EDGE = 40; // pixels at the left and the right, for the figures of the scale

function shape(name, attributes, text = "") {
  const made = document.createElementNS(NAMESPACE, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.textContent = text;
  return made;
}

const signed = (value) => (value >= 0 ? "+" : "\u2212") + Math.abs(value).toFixed(2);

/** Where a frame stands along the chart, in pixels. */
function across(svg, course) {
  const first = course[0].time;
  const span = course[course.length - 1].time - first || 1;
  return (each) => EDGE + ((svg.clientWidth - 2 * EDGE) * (each.time - first)) / span;
}

/** Draw light and correction of each frame, the present one marked; what is said of that one. */
export function drawCourse(svg, course, present) {
  const height = svg.clientHeight;
  const values = course.flatMap((each) => [each.light, each.stops, 0]);
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const x = across(svg, course);
  const y = (value) => 14 + ((height - 36) * (high - value)) / (high - low || 1);
  const here = course.find((each) => each.frame === present);
  const marks = here
    ? [shape("line", { class: "present", x1: x(here), x2: x(here), y1: 4, y2: height - 18 })]
    : [];
  const bars = course.map((each) => shape("line", {
    class: "correction", x1: x(each), x2: x(each), y1: y(0), y2: y(each.stops),
  }));
  const points = course.map((each) => `${x(each)},${y(each.light)}`).join(" ");
  const dots = course.map((each) => {
    const dot = shape("circle", {
      class: each === here ? "light here" : "light", cx: x(each), cy: y(each.light),
      r: each === here ? 6 : 3.5,
    });
    dot.append(shape("title", {}, each.name));
    return dot;
  });
  svg.replaceChildren(
    shape("line", { class: "zero", x1: EDGE, x2: svg.clientWidth - EDGE, y1: y(0), y2: y(0) }),
    ...marks, ...bars, shape("polyline", { class: "light", points }), ...dots,
    ...figures(svg, course, { low, high, x, y, height }),
  );
  if (!here) return "";
  return `${here.name}: light ${signed(here.light)}, correction ${signed(here.stops)}`;
}

function figures(svg, course, { low, high, x, y, height }) {
  const scale = [low, 0, high].filter((value, i) => i === 1 || Math.abs(y(value) - y(0)) > 14);
  const last = course[course.length - 1];
  return [
    ...scale.map((value) => shape("text", { x: 0, y: y(value) + 4 }, value ? signed(value).slice(0, -1) : "0")),
    shape("text", { x: x(course[0]), y: height - 3 }, course[0].clock),
    shape("text", { x: x(last), y: height - 3, "text-anchor": "end" }, last.clock),
  ];
}

/** The frame whose place is nearest to a pointer, of those that are shown. */
export function nearest(svg, course, clientX) {
  const x = across(svg, course);
  const at = clientX - svg.getBoundingClientRect().left;
  const shown = course.filter((each) => each.frame !== null);
  if (!shown.length) return null;
  return shown.reduce((a, b) => (Math.abs(x(b) - at) < Math.abs(x(a) - at) ? b : a)).frame;
}
