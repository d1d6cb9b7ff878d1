// Tells textual.js, which starts when all is loaded, where its line is and how big its letters may be. Keys go to the
// terminal without a click as soon as the line is open; earlier, textual.js would speak on a line that is not.
"use strict";
{
  const COLUMNS = 60, ROWS = 20; // what the table needs at least
  const WIDE = 0.61, HIGH = 1.2; // a cell, in parts of the font's size
  const LARGEST = 16, SMALLEST = 6;
  const fits = Math.min(innerWidth / (COLUMNS * WIDE), innerHeight / (ROWS * HIGH));
  const terminal = document.getElementById("terminal");
  terminal.dataset.sessionWebsocketUrl = `ws://${location.host}/line`;
  terminal.dataset.fontSize = String(Math.max(SMALLEST, Math.min(LARGEST, Math.floor(fits))));
  const opened = new MutationObserver(() => {
    if (document.body.classList.contains("-loaded")) {
      opened.disconnect();
      terminal.querySelector("textarea").focus();
    }
  });
  opened.observe(document.body, { attributeFilter: ["class"] });
  document.getElementById("again").addEventListener("click", () => location.reload());
}
