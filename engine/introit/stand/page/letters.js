// Letter keys for who stands at a keyboard; they can be switched off, for who speaks to the machine (WCAG 2.1.4).

export class Letters {
  // keys: key -> the button it presses. isFree(): whether keys are for them now.
  constructor(button, keys, isFree) {
    button.addEventListener("click", () => {
      const on = button.getAttribute("aria-pressed") !== "true";
      button.setAttribute("aria-pressed", String(on));
      document.body.toggleAttribute("data-no-letters", !on);
    });
    addEventListener("keydown", (event) => {
      if (button.getAttribute("aria-pressed") !== "true" || !isFree()) return;
      if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing || event.repeat) return;
      const pressed = keys[event.key.toLowerCase()];
      if (!pressed || pressed.disabled) return;
      event.preventDefault();
      pressed.click();
    });
  }
}
