// Keeps the screen awake where the browser allows it, and says what is missing where it does not.

export function keepAwake(say) {
  if (!window.isSecureContext) {
    say(
      "The screen may go dark by itself: a browser keeps it awake only for a page on this machine or over https. " +
        "Start with --tls, or set the device's own screen timeout to never.",
    );
    return;
  }
  if (!("wakeLock" in navigator)) {
    say("The screen may go dark by itself: this browser cannot keep it awake. Set the device's screen timeout to never.");
    return;
  }
  const ask = async () => {
    if (document.visibilityState !== "visible") return;
    try {
      const lock = await navigator.wakeLock.request("screen");
      say("");
      lock.addEventListener("release", () => document.visibilityState === "visible" && setTimeout(ask, 1000));
    } catch {
      say("The screen may go dark by itself: the device refuses to keep it awake (saving its battery?).");
    }
  };
  document.addEventListener("visibilitychange", ask);
  // Some browsers want a touch before they allow it.
  document.addEventListener("pointerdown", ask, { once: true });
  ask();
}
