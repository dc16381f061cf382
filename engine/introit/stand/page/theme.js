// Dark or light: as the device has it, until somebody says otherwise on this device.

const NAME = "introit theme";
const kept = {
  read() {
    try {
      return localStorage.getItem(NAME);
    } catch {
      return null; // a browser that keeps nothing: the device's own holds
    }
  },
  write(value) {
    try {
      localStorage.setItem(NAME, value);
    } catch {
      // as above
    }
  },
};

export function themeSwitch(button) {
  const device = matchMedia("(prefers-color-scheme: light)");
  const show = () => {
    const said = kept.read();
    const theme = said === "light" || said === "dark" ? said : device.matches ? "light" : "dark";
    document.documentElement.dataset.theme = theme;
    button.textContent = theme === "dark" ? "Light" : "Dark";
    button.setAttribute("aria-label", theme === "dark" ? "Light page" : "Dark page");
  };
  device.addEventListener("change", show);
  button.addEventListener("click", () => {
    kept.write(document.documentElement.dataset.theme === "dark" ? "light" : "dark");
    show();
  });
  show();
}
