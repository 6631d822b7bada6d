// The view: what of the drawing shows. `view` has its middle in mm and mm per px.
const root = document.documentElement;
root.dataset.live = "";
const byId = (id) => document.getElementById(id);
const stage = byId("stage");
const figure = byId("figure");
const whole = figure.viewBox.baseVal;
const page = { x: whole.x, y: whole.y, width: whole.width, height: whole.height };
const calm = matchMedia("(prefers-reduced-motion: reduce)");
const CLOSEST = 0.0004; // mm per px: a gap of 0.05 mm is then 125 px wide
const OVER = 1.5; // the drawing is painted so much wider and higher than the stage, so that it can be moved a while
const REST = 120; // ms without a movement, and it is painted anew
const view = { x: 0, y: 0, u: 1 }, painted = { x: 0, y: 0, u: 1 };
const followers = []; // called after each movement
let width = 1, height = 1, due = 0, moving = 0, resting = 0;

const fitting = () => Math.max(page.width / width, page.height / height);

// Moves what was painted, which costs nothing however much there is of it; paints anew at rest, or where it ran out.
function show() {
  due = 0;
  clearTimeout(resting);
  const dx = (painted.x - view.x) / view.u, dy = (painted.y - view.y) / view.u, scale = painted.u / view.u;
  const spare = (side) => side * (OVER * scale - 1) / 2;
  if (scale > 4 || Math.abs(dx) > Math.max(spare(width), 0) || Math.abs(dy) > Math.max(spare(height), 0)) {
    paint();
  } else {
    figure.style.transform = `translate(${dx}px, ${dy}px) scale(${scale})`;
    resting = setTimeout(paint, REST);
  }
  stage.classList.toggle("near", view.u < fitting() * 0.99);
  showRuler();
  followers.forEach((follow) => follow());
}

function paint() {
  const wide = width * view.u * OVER, high = height * view.u * OVER;
  Object.assign(painted, view);
  const box = [view.x - wide / 2, view.y - high / 2, wide, high];
  figure.setAttribute("viewBox", box.map((value) => value.toFixed(5)).join(" "));
  figure.style.setProperty("--u", view.u);
  figure.style.transform = "";
}

function look(x, y, u) {
  view.u = Math.min(Math.max(u, CLOSEST), fitting() * 2);
  view.x = Math.min(Math.max(x, page.x), page.x + page.width);
  view.y = Math.min(Math.max(y, page.y), page.y + page.height);
  due ||= requestAnimationFrame(show);
}

function lookAtAll() {
  look(page.x + page.width / 2, page.y + page.height / 2, fitting());
}

// Zooms so that what lies under a spot of the stage (px from its middle) stays there.
function zoom(factor, dx = 0, dy = 0) {
  const u = Math.min(Math.max(view.u * factor, CLOSEST), fitting() * 2);
  look(view.x + dx * (view.u - u), view.y + dy * (view.u - u), u);
}

function pan(dx, dy) {
  look(view.x - dx * view.u, view.y - dy * view.u, view.u);
}

function glide(x, y, u) {
  cancelAnimationFrame(moving);
  if (calm.matches) return look(x, y, u);
  const from = { ...view }, start = performance.now();
  const step = (now) => {
    const share = Math.min((now - start) / 280, 1), ease = 1 - (1 - share) ** 3;
    const mix = (a, b) => a + (b - a) * ease;
    look(mix(from.x, x), mix(from.y, y), from.u * (u / from.u) ** ease);
    if (share < 1) moving = requestAnimationFrame(step);
  };
  moving = requestAnimationFrame(step);
}

// Brings a spot into view, near enough to see `span` mm round it, in the middle of what is not `covered` (px) below.
function goTo(x, y, span, covered) {
  const u = Math.min(span / Math.min(width, height), fitting());
  glide(x, y + covered * u / 2, u);
}

// Moves the view only if a spot is not well within it.
function keepInView(x, y) {
  const out = Math.abs(x - view.x) > width * view.u * 0.45 || Math.abs(y - view.y) > height * view.u * 0.45;
  if (out) look(x, y, view.u);
}

function spotAt(clientX, clientY) {
  const box = stage.getBoundingClientRect();
  const dx = clientX - box.left - width / 2, dy = clientY - box.top - height / 2;
  return { dx, dy, x: view.x + dx * view.u, y: view.y + dy * view.u };
}

function placeOf(x, y) {
  return { left: (x - view.x) / view.u + width / 2, top: (y - view.y) / view.u + height / 2 };
}

function showRuler() {
  const ruler = byId("ruler"), most = 140 * view.u;
  const power = 10 ** Math.floor(Math.log10(most));
  const length = [5, 2, 1].find((step) => step * power <= most) * power;
  ruler.hidden = false;
  ruler.style.width = `${length / view.u}px`;
  ruler.firstElementChild.textContent = `${Number(length.toPrecision(1))} mm`;
}

new ResizeObserver(() => {
  const before = width > 1 ? view.u / fitting() : 0;
  width = stage.clientWidth || 1;
  height = stage.clientHeight || 1;
  if (before && before < 0.99) look(view.x, view.y, before * fitting());
  else lookAtAll();
  paint();
}).observe(stage);

addEventListener("beforeprint", () => {
  figure.setAttribute("viewBox", `${page.x} ${page.y} ${page.width} ${page.height}`);
  figure.style.setProperty("--u", page.width / 700);
  figure.style.transform = "";
});
addEventListener("afterprint", paint);
