// Findings: each entry of the list goes to its place, each pin to its entry.
const links = [...document.querySelectorAll(".lot a")].sort((one, other) => number(one) - number(other));
const card = byId("card"), cardText = byId("card-text");
let chosen = -1;

function number(link) {
  return Number(link.id.slice("place-".length));
}

function choose(index) {
  putAway();
  chosen = (index + links.length) % links.length;
  const link = links[chosen], lot = link.closest(".lot");
  link.setAttribute("aria-current", "true");
  const pin = byId(`mark-${number(link)}`);
  pin.classList.add("chosen");
  pin.parentNode.append(pin); // over the others
  const parts = [[link.closest(".kind"), ".word"], [link.closest(".said"), ".what"], [lot, ".remedy"]];
  const words = parts.map(([within, part]) => within.querySelector(part)?.textContent ?? "");
  cardText.textContent = `${words[0]} ${link.textContent}\n${words[1]}\n${words[2]}`.trim();
  card.hidden = false;
  const covered = card.offsetWidth > width / 2 ? card.offsetHeight : 0;
  goTo(Number(link.dataset.x), -Number(link.dataset.y), Math.max(Number(link.dataset.reach ?? 0) * 10, 5), covered);
}

function putAway() {
  links[chosen]?.removeAttribute("aria-current");
  document.querySelector(".mark.chosen")?.classList.remove("chosen");
  card.hidden = true;
}

links.forEach((link, index) => link.addEventListener("click", (event) => {
  event.preventDefault();
  choose(index);
  const box = stage.getBoundingClientRect();
  if (box.top < 0 || box.bottom > innerHeight) {
    stage.parentNode.scrollIntoView({ block: "start", behavior: calm.matches ? "auto" : "smooth" });
  }
}));
stage.addEventListener("click", (event) => {
  const pin = event.target.closest(".mark");
  if (pin && dragged <= 4) choose(links.findIndex((link) => `mark-${number(link)}` === pin.id));
});
byId("card-close").addEventListener("click", () => { putAway(); stage.focus(); });
byId("card-next").addEventListener("click", () => choose(chosen + 1));
byId("card-previous").addEventListener("click", () => choose(chosen - 1));
byId("card-list").addEventListener("click", () => {
  links[chosen].closest("details").open = true;
  links[chosen].focus({ preventScroll: true });
  links[chosen].scrollIntoView({ block: "center", behavior: calm.matches ? "auto" : "smooth" });
});
if (links.length) {
  onKeys(["n"], () => choose(chosen + 1));
  onKeys(["p"], () => choose(chosen < 0 ? -1 : chosen - 1));
}
onKeys(["Escape"], () => { putAway(); unmark(); });
