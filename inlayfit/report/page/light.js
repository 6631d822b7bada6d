// Day or night, as the system has it or as it was chosen.
byId("light").addEventListener("change", (event) => {
  if (event.target.value) root.dataset.light = event.target.value;
  else delete root.dataset.light;
});
