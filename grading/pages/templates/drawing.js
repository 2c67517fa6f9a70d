import { $ } from "./parts.js";

const MOST = 400; // points of a path
const shapes = {
  gradient: ([a, ...rest]) => line(a, rest.at(-1)),
  level: ([a, ...rest]) => line(a, rest.at(-1)),
  ellipse: ([a, ...rest]) => ellipse(a, rest.at(-1)),
  hues: ([a, ...rest]) => box(a, rest.at(-1)),
  crop: ([a, ...rest]) => box(a, rest.at(-1)),
  polygon: (points) => shape("polygon", { points: points.join(" ") }),
};

const line = (a, b) => shape("line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1] });
const box = (a, b) => shape("rect", {
  x: Math.min(a[0], b[0]), y: Math.min(a[1], b[1]),
  width: Math.abs(a[0] - b[0]), height: Math.abs(a[1] - b[1]),
});
const ellipse = (a, b) => shape("ellipse", {
  cx: a[0], cy: a[1], rx: Math.abs(a[0] - b[0]), ry: Math.abs(a[1] - b[1]),
});

/** A shape twice, dark below and light above, so that it shows on any picture. */
function shape(name, attributes) {
  return ["dark", "light"].map((kind) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries({ ...attributes, class: kind })) {
      made.setAttribute(key, value);
    }
    return made;
  });
}

/**
 * Drawing on the picture: by a drag, or by the keyboard point for point.
 *
 * `place` gives the place of a pointer, `done` takes the tool and the points of what was drawn.
 */
export function drawing({ place, done }) {
  let tool = "";
  let points = [];
  let dragged = false;

  const show = () => {
    const enough = tool && points.length > 1;
    $("drawing").replaceChildren(...(enough ? shapes[tool](points) : []));
  };
  const finish = () => {
    dragged = false;
    if (points.length > 1) done(tool, points);
  };

  $("picture").addEventListener("pointerdown", (event) => {
    if (!tool || event.button) return;
    event.preventDefault();
    $("picture").focus();
    $("picture").setPointerCapture(event.pointerId);
    points = [place(event)];
    dragged = true;
  });
  $("picture").addEventListener("pointermove", (event) => {
    if (!dragged) return;
    if (points.length < MOST) points.push(place(event));
    else points[MOST - 1] = place(event);
    show();
  });
  $("picture").addEventListener("pointerup", () => dragged && finish());
  $("picture").addEventListener("pointercancel", () => {
    dragged = false;
    points = [];
    show();
  });

  return {
    get active() {
      return tool !== "";
    },
    choose(name) {
      tool = name;
      points = [];
      $("picture").classList.toggle("draws", tool !== "");
      show();
    },
    clear() {
      points = [];
      show();
    },
    /** Another point by the keyboard; a path ends with the same point twice. */
    add(point) {
      const last = points.at(-1);
      const again = last && String(last) === String(point);
      if (!again) points.push(point);
      show();
      if (again || (tool !== "polygon" && points.length === 2)) {
        finish();
        points = [];
      }
    },
  };
}
