// Wheel, drag, touch, keys and buttons move the view.
const fingers = new Map();
const keys = new Map();
let dragged = 0;

stage.addEventListener("wheel", (event) => {
  event.preventDefault();
  const lines = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? height : 1;
  const at = spotAt(event.clientX, event.clientY);
  zoom(Math.exp(Math.min(Math.max(event.deltaY * lines, -240), 240) * (event.ctrlKey ? 0.01 : 0.002)), at.dx, at.dy);
}, { passive: false });

stage.addEventListener("pointerdown", (event) => {
  if (event.button) return;
  if (!fingers.size) dragged = 0;
  fingers.set(event.pointerId, event);
  cancelAnimationFrame(moving);
});

stage.addEventListener("pointermove", (event) => {
  const before = fingers.get(event.pointerId);
  if (!before) return;
  const dx = event.clientX - before.clientX, dy = event.clientY - before.clientY;
  dragged += Math.abs(dx) + Math.abs(dy);
  if (dragged > 4 && !stage.hasPointerCapture(event.pointerId)) {
    stage.setPointerCapture(event.pointerId);
    stage.classList.add("moving");
  }
  if (fingers.size === 2) {
    const other = [...fingers.values()].find((finger) => finger.pointerId !== event.pointerId);
    const spread = (finger) => Math.hypot(finger.clientX - other.clientX, finger.clientY - other.clientY) || 1;
    const at = spotAt((event.clientX + other.clientX) / 2, (event.clientY + other.clientY) / 2);
    zoom(spread(before) / spread(event), at.dx, at.dy);
    pan(dx / 2, dy / 2);
  } else if (fingers.size === 1 && dragged > 4) {
    pan(dx, dy);
  }
  fingers.set(event.pointerId, event);
});

for (const kind of ["pointerup", "pointercancel"]) {
  stage.addEventListener(kind, (event) => {
    fingers.delete(event.pointerId);
    if (!fingers.size) stage.classList.remove("moving");
  });
}

const onKeys = (names, action) => names.forEach((name) => keys.set(name, action));
onKeys(["ArrowLeft"], (far) => pan(far, 0));
onKeys(["ArrowRight"], (far) => pan(-far, 0));
onKeys(["ArrowUp"], (far) => pan(0, far));
onKeys(["ArrowDown"], (far) => pan(0, -far));
onKeys(["+", "="], () => zoom(1 / 1.4));
onKeys(["-", "_"], () => zoom(1.4));
onKeys(["0", "Home"], lookAtAll);

stage.addEventListener("keydown", (event) => {
  const action = keys.get(event.key);
  if (!action || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  action(event.shiftKey ? 240 : 60);
});

byId("zoom-in").addEventListener("click", () => zoom(1 / 1.4));
byId("zoom-out").addEventListener("click", () => zoom(1.4));
byId("zoom-all").addEventListener("click", lookAtAll);
