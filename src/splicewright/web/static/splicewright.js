// Small comforts; every page works without them.
"use strict";
for (const time of document.querySelectorAll("time[datetime*='T']")) {
  // Times are told in UTC by the server; here they are told in the reader's own.
  const at = new Date(time.dateTime);
  time.title = time.textContent;
  time.textContent = at.toLocaleString(undefined, {
    year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit",
  });
}
