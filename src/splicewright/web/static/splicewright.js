// Small comforts; every page works without them.
"use strict";
for (const time of document.querySelectorAll("time[datetime*='T']")) {
  // Times are told in UTC by the server; here in the reader's own, written as all dates are: nobody
  // has to guess which number is the month.
  const at = new Date(time.dateTime);
  time.title = time.textContent;
  const [day, clock] = at.toLocaleString("sv-SE", { dateStyle: "short", timeStyle: "short" }).split(" ");
  const whole = Object.assign(document.createElement("n-b"), { textContent: day });
  time.replaceChildren(whole, ` ${clock}`);
}

// Sunlight: black on white, whatever the phone's own theme; kept on this phone.
{
  const root = document.documentElement, button = document.getElementById("sunlight");
  const kept = { get: () => { try { return localStorage.getItem("sunlight"); } catch { return null; } },
    set: (on) => { try { localStorage.setItem("sunlight", on); } catch { /* until the page goes */ } } };
  const turn = (on) => {
    if (on) root.dataset.light = "sun";
    else delete root.dataset.light;
    button?.setAttribute("aria-pressed", String(on));
    if (button) button.textContent = on ? "Sunlight off" : "Sunlight: black on white";
  };
  turn(kept.get() === "yes");
  if (button) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const on = root.dataset.light !== "sun";
      kept.set(on ? "yes" : "no");
      turn(on);
    });
  }
}

// Print the page, or one part of it: `only` is then told to the print style until it is done.
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-print]");
  if (!button) return;
  if (button.dataset.print) document.documentElement.dataset.only = button.dataset.print;
  window.print();
});
window.addEventListener("afterprint", () => delete document.documentElement.dataset.only);
