// The pairing screen: the code that stands in the terminal, and what this device is to be called.

export function pairing(elements, { paired }) {
  const { form, code, device, error } = elements;
  device.value = deviceName();

  const pair = async () => {
    error.textContent = "";
    try {
      const response = await fetch("/pair", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ code: code.value.replace(/\s/g, ""), name: device.value.trim() }),
      });
      if (response.ok) {
        code.value = "";
        paired();
        return;
      }
      error.textContent = await sentence(response);
    } catch {
      error.textContent = "No connection: is Introit still running, and this device in the same network?";
    }
    code.select();
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    pair();
  });

  // From the QR code: the code comes behind the #, so that it is in no request and no log.
  return {
    fromAddress() {
      const found = /^#pair=([0-9]{4,12})$/.exec(location.hash);
      if (!found) return;
      history.replaceState(null, "", "/#play");
      code.value = found[1];
      pair();
    },
  };
}

async function sentence(response) {
  try {
    const { error } = await response.json();
    if (typeof error === "string" && error) return error;
  } catch {
    // the status has to do
  }
  return `That code was not taken (${response.status}).`;
}

function deviceName() {
  const wide = Math.min(screen.width, screen.height);
  if (!matchMedia("(pointer: coarse)").matches) return "computer";
  return wide < 600 ? "phone" : "tablet";
}
