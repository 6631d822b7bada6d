// The gap at a spot: under the pointer, or step by step along a piece. The figures are those of the report within.
const report = JSON.parse(byId("report").textContent);
const walks = report.pieces.map((piece) => piece.gap.along);
const starts = [];
const count = walks.reduce((sum, along) => { starts.push(sum); return sum + along.length; }, 0);
const xs = new Float64Array(count), ys = new Float64Array(count);
walks.forEach((along, piece) => along.forEach(([x, y], place) => {
  xs[starts[piece] + place] = x;
  ys[starts[piece] + place] = -y;
}));
const here = byId("here"), tip = byId("tip"), readout = byId("readout");
const walkPiece = byId("walk-piece"), walkPlace = byId("walk-place");
const NEAR = 26; // px from the pointer to a sample that it means
let marked = -1;
const mmPerThou = Number(stage.dataset.mmPerThou);

const gapText = (gap) => `${gap.toFixed(4)} mm (${(gap / mmPerThou).toFixed(2)} thou)`;

function nearest(x, y) {
  let best = -1, least = (NEAR * view.u) ** 2;
  for (let index = 0; index < count; index += 1) {
    const far = (xs[index] - x) ** 2 + (ys[index] - y) ** 2;
    if (far < least) { least = far; best = index; }
  }
  return best;
}

function pieceOf(index) {
  let piece = starts.length - 1;
  while (starts[piece] > index) piece -= 1;
  return piece;
}

function mark(index) {
  marked = index;
  here.hidden = index < 0;
  if (index < 0) return;
  const at = placeOf(xs[index], ys[index]);
  here.style.transform = `translate(${at.left}px, ${at.top}px)`;
}

function unmark() {
  mark(-1);
  tip.hidden = true;
}

followers.push(() => { mark(marked); tip.hidden = true; });

function showTip(index) {
  const piece = pieceOf(index), gap = walks[piece][index - starts[piece]][2];
  tip.textContent = `${report.pieces[piece].name}: ${gapText(gap)}`;
  tip.hidden = false;
  const { left, top } = placeOf(xs[index], ys[index]);
  const x = Math.min(Math.max(left - tip.offsetWidth / 2, 4), width - tip.offsetWidth - 4);
  const y = top - tip.offsetHeight - 14 < 4 ? top + 14 : top - tip.offsetHeight - 14;
  tip.style.transform = `translate(${x}px, ${y}px)`;
}

function tell(index) {
  const piece = pieceOf(index), place = index - starts[piece];
  const [x, y, gap] = walks[piece][place];
  walkPiece.value = piece;
  walkPlace.max = walks[piece].length - 1;
  walkPlace.value = place;
  walkPlace.setAttribute("aria-valuetext", `${gapText(gap)} at ${x.toFixed(1)}, ${y.toFixed(1)}`);
  readout.textContent = `${report.pieces[piece].name}: ${gapText(gap)}\nat ${x.toFixed(3)}, ${y.toFixed(3)}`;
  mark(index);
}

function walkTo(piece, place) {
  const length = walks[piece].length, index = starts[piece] + ((place % length) + length) % length;
  tell(index);
  keepInView(xs[index], ys[index]);
  tip.hidden = true;
}

stage.addEventListener("pointermove", (event) => {
  if (fingers.size && dragged > 4) { tip.hidden = true; return; }
  const at = spotAt(event.clientX, event.clientY), index = nearest(at.x, at.y);
  if (index < 0) return unmark();
  mark(index);
  showTip(index);
});
stage.addEventListener("pointerleave", unmark);
stage.addEventListener("click", (event) => {
  if (dragged > 4 || event.target.closest(".mark")) return;
  const at = spotAt(event.clientX, event.clientY), index = nearest(at.x, at.y);
  if (index >= 0) { tell(index); showTip(index); }
});
walkPiece.addEventListener("change", () => walkTo(Number(walkPiece.value), 0));
walkPlace.addEventListener("input", () => walkTo(Number(walkPiece.value), Number(walkPlace.value)));
onKeys(["."], () => walkTo(Number(walkPiece.value), Number(walkPlace.value) + 1));
onKeys([","], () => walkTo(Number(walkPiece.value), Number(walkPlace.value) - 1));
walkPlace.max = walks[0].length - 1;
