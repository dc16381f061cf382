// What is called on stage: another key, another tempo, another intro.

const KEYS = ["C", "D♭", "D", "E♭", "E", "F", "G♭", "G", "A♭", "A", "B♭", "B"];
const ALOUD = ["C", "D flat", "D", "E flat", "E", "F", "G flat", "G", "A flat", "A", "B flat", "B"];

export function calls(dialog, elements, orders) {
  const minor = () => {
    const said = dialog.querySelector("input[name=mode]:checked").value;
    return said === "" ? null : said === "minor";
  };
  KEYS.forEach((key, tonic) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = key;
    button.setAttribute("aria-label", ALOUD[tonic]);
    button.dataset.tonic = tonic;
    button.addEventListener("click", () => {
      orders.send({ do: "key", tonic, minor: minor() });
      dialog.close();
    });
    elements.keys.append(button);
  });
  for (const [button, order, closes] of [
    [elements.slower, "slower", false],
    [elements.faster, "faster", false],
    [elements.another, "another intro", true],
    [elements.firstNote, "first note", true],
    [elements.soundCheck, "sound check", true],
  ]) {
    button.addEventListener("click", () => {
      orders.order(order);
      if (closes) dialog.close();
    });
  }
  elements.open.addEventListener("click", () => {
    dialog.querySelector("input[name=mode]").checked = true;
    dialog.showModal();
  });
  elements.close.addEventListener("click", () => dialog.close());
  dialog.addEventListener("click", (event) => event.target === dialog && dialog.close()); // beside it
}
