"use strict";
{
  const viewer = document.querySelector(".viewer");
  const stage = viewer.querySelector(".stage");
  const range = viewer.querySelector("#divider");
  const actual = viewer.querySelector("#actual");
  const { width, height, x, y } = viewer.dataset;

  const place = () => {
    const share = range.value / 100;
    range.setAttribute("aria-valuetext", `${Math.round(range.value)} % A`);
    const line = share * stage.clientWidth;
    viewer.style.setProperty("--line", `${line}px`);
    viewer.style.setProperty("--cut", `${stage.scrollLeft + line}px`);
  };

  const size = () => {
    viewer.style.setProperty("--width", `${width / devicePixelRatio}px`);
    place();
  };

  const centre = (across, down) => {
    stage.scrollLeft = across * stage.scrollWidth - stage.clientWidth / 2;
    stage.scrollTop = down * stage.scrollHeight - stage.clientHeight / 2;
    place();
  };

  const drag = (event) => {
    const box = stage.getBoundingClientRect();
    range.value = (100 * (event.clientX - box.left)) / stage.clientWidth;
    place();
  };

  const divider = viewer.querySelector(".divider");
  divider.addEventListener("pointerdown", (event) => {
    divider.setPointerCapture(event.pointerId);
    divider.addEventListener("pointermove", drag);
    event.preventDefault();
  });
  for (const end of ["pointerup", "pointercancel"]) {
    divider.addEventListener(end, () => divider.removeEventListener("pointermove", drag));
  }

  range.addEventListener("input", place);
  stage.addEventListener("scroll", place);
  actual.addEventListener("change", () => centre(0.5, 0.5));
  viewer.querySelector("#largest").addEventListener("click", () => {
    actual.checked = true;
    centre(x, y);
  });
  addEventListener("resize", size);
  size();
}
