"""Pages in a real browser: whose chromium, how they are checked, where pictures go."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

from depth import PICTURES

ROOT = Path(__file__).parents[2]
SCREENSHOTS = ROOT / "out" / "screenshots"
AXE = Path(__file__).parent / "vendor" / "axe-4.14.1.min.js"
COLOURS = ["color-contrast"]
"""The rule that a change of colours alone can break."""
_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


_ALL_THERE = """async () => {
  const images = [...document.images];
  images.forEach((i) => { i.loading = "eager"; });
  await Promise.all(images.map((i) => i.complete || new Promise((there) => {
    i.addEventListener("load", there);
    i.addEventListener("error", there);
  })));
  for (let n = 0; n < 400 && document.querySelector(".htmx-request"); n += 1) {
    await new Promise((later) => setTimeout(later, 25));
  }
}"""


def chromium() -> str:
    """Where Debian's chromium is: the one without a window first, it starts pages faster."""
    names = ("chromium-headless-shell", "chromium", "chromium-browser")
    found = next(filter(None, map(shutil.which, names)), None)
    assert found, "the browser tests need a chromium: `apt-get install chromium-headless-shell`"
    return found


def axe(page: Page, rules: list[str] = _RULES) -> None:
    """No violation of the accessibility rules on the page as it stands."""
    if not page.evaluate("'axe' in window"):
        # Through the debugger, not as a script element: the page's policy forbids those.
        page.evaluate(AXE.read_text("utf-8"))
    # Details of what is right would take half the time, and nobody reads them.
    how = {"runOnly": rules, "resultTypes": ["violations"]}
    found: dict[str, Any] = page.evaluate("how => axe.run(document, how)", how)
    told = [
        f"{v['id']}: {v['help']}\n" + "\n".join(f"   {n['html'][:200]}" for n in v["nodes"][:5])
        for v in found["violations"]
    ]
    assert not told, "\n".join(told)


def fits(page: Page) -> None:
    """Nothing sticks out sideways."""
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    if wide <= 0:
        return
    culprits = page.evaluate(
        """() => [...document.querySelectorAll("body *")]
            .filter((e) => e.clientWidth && e.scrollWidth > e.clientWidth + 1)
            .map((e) => `${e.scrollWidth} in ${e.clientWidth}: ${e.outerHTML.slice(0, 150)}`)"""
    )
    raise AssertionError(f"{page.url} is {wide} px too wide: {culprits}")


def small_targets(page: Page) -> list[str]:
    """Targets lower than 48 px; links within a sentence are none."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll(
             'button, select, summary, nav a, a.button, .cards a, a.tap, label.tick, '
             + '.links a, input:not([type=hidden], [type=checkbox], [type=radio], [type=file])')]
           .filter(e => e.getClientRects().length && e.getBoundingClientRect().height < 47.5)
           .map(e => `${e.outerHTML.slice(0, 120)}: ${e.getBoundingClientRect().height}`)"""
    )
    return found


def not_struck(page: Page) -> list[str]:
    """Words that look as if they stood within what is struck through: the line does not reach into
    boxes by itself."""
    found: list[str] = page.evaluate(
        """() => {
          const line = (e) => getComputedStyle(e).textDecorationLine.includes("line-through");
          const box = (e) => /^inline-|^absolute|^fixed/.test(getComputedStyle(e).display)
            || getComputedStyle(e).position === "absolute" || getComputedStyle(e).float !== "none";
          const told = [];
          for (const struck of [...document.querySelectorAll("body *")].filter(line)) {
            const words = document.createTreeWalker(struck, NodeFilter.SHOW_TEXT);
            while (words.nextNode()) {
              if (!words.currentNode.data.trim()) continue;
              let e = words.currentNode.parentElement;
              while (e !== struck && !line(e) && !box(e)) e = e.parentElement;
              if (e !== struck && !line(e) && e.checkVisibility()) told.push(e.textContent);
            }
          }
          return told;
        }"""
    )
    return found


def all_there(page: Page) -> None:
    """Until images have come, and what the page asked for when it was opened."""
    page.evaluate(_ALL_THERE)


def picture(page: Page, name: str) -> None:
    """Keep a picture of the whole page where somebody will look at it; nothing is asked of it."""
    all_there(page)
    if not PICTURES:
        return
    place = SCREENSHOTS / f"{name}.png"
    place.parent.mkdir(parents=True, exist_ok=True)
    # In the page's own pixels: four times as many of a phone's say no more, and take longer.
    page.screenshot(path=place, full_page=True, scale="css")


def cut_off(page: Page) -> list[str]:
    """Selects, by their longest choice, and examples in empty boxes whose words are longer than the
    box that shows them; names that people gave (`.names`) end in an ellipsis."""
    found: list[str] = page.evaluate(
        """() => {
          const pen = document.createElement("canvas").getContext("2d");
          return [...document.querySelectorAll("select, input")]
            .filter((e) => e.checkVisibility({ visibilityProperty: true }))
            .map((e) => {
              const style = getComputedStyle(e);
              pen.font = e.placeholder ? getComputedStyle(e, "::placeholder").font : style.font;
              const all = !e.matches("select") ? [e.value ? "" : e.placeholder]
                : e.matches(".names") ? [] : [...e.options].map((option) => option.text);
              const wide = (words) => pen.measureText(words).width;
              const words = all.reduce((one, other) => (wide(one) < wide(other) ? other : one), "");
              const arrow = e.matches("select") ? 14 : 0;
              const room = e.clientWidth - arrow - parseFloat(style.paddingLeft)
                - parseFloat(style.paddingRight);
              return { words, lack: wide(words) - room };
            })
            .filter(({ lack }) => lack > 1)
            .map(({ words, lack }) => `${Math.round(lack)} px too long: ${words}`);
        }"""
    )
    return found


def words_over_words(page: Page) -> list[str]:
    """Words that lie over other words, and lines of one text further apart than its others."""
    found: list[str] = page.evaluate(
        """() => {
          const lines = [], told = [];
          const walk = document.createTreeWalker(document.querySelector("main"),
            NodeFilter.SHOW_TEXT);
          for (let node = walk.nextNode(); node; node = walk.nextNode()) {
            const e = node.parentElement.closest(":not(n-b)");
            if (!node.textContent.trim() || e.closest("svg, .unseen, .glance, option, dialog")
                || e.closest("table.stack thead")?.offsetHeight === 1
                || !e.checkVisibility({ visibilityProperty: true })) continue;
            const range = document.createRange();
            range.selectNodeContents(node);
            for (const box of range.getClientRects()) {
              if (box.width > 1) lines.push({ box, e, text: node.textContent.trim() });
            }
          }
          lines.sort((a, b) => a.box.top - b.box.top);
          lines.forEach((one, at) => {
            for (let after = at + 1; after < lines.length; after += 1) {
              const other = lines[after];
              if (other.box.top > one.box.bottom - 4) break;
              const across = Math.min(one.box.right, other.box.right)
                - Math.max(one.box.left, other.box.left);
              if (across > 2 && Math.abs(other.box.top - one.box.top) > 4) {
                told.push(`“${one.text.slice(0, 40)}” under “${other.text.slice(0, 40)}”`);
              }
            }
          });
          const linesOf = new Map();
          for (const { box, e } of lines) {
            const text = e.closest("p, .said, .by, dd, td > span, .row");
            if (!linesOf.has(text)) linesOf.set(text, new Set());
            linesOf.get(text).add(Math.round(box.bottom));
          }
          const texts = "main :is(p, .said, .by, dd, td > span):not(.row, :has(button, .button))";
          for (const text of document.querySelectorAll(texts)) {
            const tops = [...linesOf.get(text) ?? []].sort((a, b) => a - b);
            const gaps = tops.slice(1).map((top, i) => top - tops[i]).filter((gap) => gap > 8);
            const high = parseFloat(getComputedStyle(text).lineHeight);
            if (gaps.some((gap) => gap > 1.35 * high)) {
              told.push(`lines apart (${gaps}): ${text.textContent.trim().slice(0, 60)}`);
            }
          }
          return told;
        }"""
    )
    return found


def cut_heads(page: Page) -> list[str]:
    """Headings of stacked cells that are cut within a word."""
    found: list[str] = page.evaluate(
        """() => {
          const pen = document.createElement("canvas").getContext("2d"), told = [];
          for (const cell of document.querySelectorAll("table.stack td[data-head]")) {
            const style = getComputedStyle(cell);
            if (style.display !== "grid" || !cell.clientHeight) continue;
            pen.font = style.font;
            const room = parseFloat(style.gridTemplateColumns) + 1;
            told.push(...cell.dataset.head.split(/[\\s-]/)
              .filter((word) => pen.measureText(word).width > room));
          }
          return told;
        }"""
    )
    return found


def squeezed(page: Page) -> list[str]:
    """Cells of a table set in many short lines while the table has room for them elsewhere."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("main td")].filter((cell) => {
          const style = getComputedStyle(cell), table = cell.closest("table");
          if (style.display !== "table-cell" || !cell.clientHeight) return false;
          const range = document.createRange();
          range.selectNodeContents(cell);
          const rows = range.getBoundingClientRect().height / parseFloat(style.lineHeight);
          return rows > 4.5 && cell.clientWidth < table.clientWidth / 5;
        }).map((cell) => `${cell.clientWidth} px wide: ${cell.textContent.trim().slice(0, 60)}`)"""
    )
    return found


def broken(page: Page, longest: int = 14) -> list[str]:
    """Numbers parted from their units, dates and words in two lines; words up to so many letters:
    what is longer may have no room anywhere. What is marked to hold together: `parted`."""
    found: list[str] = page.evaluate(
        """(longest) => {
          const told = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
          const elsewhere = "n-b, svg, option, code, script, style, textarea, template, .unseen";
          const units = "mm|m|kg|kN|N/mm|h|min|%|in|ft|t/h|kW|m/s|days|weeks|d";
          const whole = new RegExp(String.raw`(?<![\\w-])(?:\\d{4}-\\d\\d-\\d\\d|`
            + String.raw`\\d[\\d.,]*\\s(?:${units})(?![\\w/])|`
            + String.raw`[A-Za-z]{2,${longest}}(?![\\w-]))`, "g");
          for (let node = walk.nextNode(); node; node = walk.nextNode()) {
            const e = node.parentElement, text = node.textContent;
            if (!text.trim() || e.closest(elsewhere)
                || !e.checkVisibility({ visibilityProperty: true })) continue;
            const range = document.createRange();
            const lines = () => new Set([...range.getClientRects()].filter((box) => box.width > 0.5)
              .map((box) => Math.round(box.top / 4))).size;
            range.selectNodeContents(node);
            if (lines() < 2) continue;
            for (const part of text.matchAll(whole)) {
              range.setStart(node, part.index);
              range.setEnd(node, part.index + part[0].length);
              if (lines() > 1) {
                told.push(`in two lines: “${part[0]}” of “${text.trim().slice(0, 50)}”`);
              }
            }
          }
          return told;
        }""",
        longest,
    )
    return found


def parted(page: Page) -> list[str]:
    """What is marked to hold together but stands in two lines where one has room for it; marks torn
    out of their text. A mark need have no box of its own: its text is what is looked at."""
    found: list[str] = page.evaluate(
        """() => {
          const told = [], pen = document.createElement("canvas").getContext("2d");
          const room = (e) => {
            const style = getComputedStyle(e);
            if (/^(inline|contents)$/.test(style.display) || e.matches("n-b")) {
              return room(e.parentElement);
            }
            // Text of a row of columns stands in the last of them.
            const columns = style.gridTemplateColumns.split(" ");
            if (style.display === "grid") return parseFloat(columns.at(-1));
            return e.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
          };
          for (const held of document.querySelectorAll("n-b")) {
            const around = held.parentElement, style = getComputedStyle(held);
            if (!around.checkVisibility({ visibilityProperty: true })
                || around.closest("svg, .unseen, table.stack thead")) continue;
            const row = /flex|grid/.test(getComputedStyle(around).display);
            if (row && style.display !== "contents") {
              told.push(`torn out of its text: ${around.outerHTML.slice(0, 90)}`);
            }
            const link = around.closest("a");
            const lined = (e) => getComputedStyle(e).textDecorationLine;
            if (link && style.display !== "contents" && lined(link) !== lined(held)) {
              told.push(`no line under “${held.textContent}” of a link`);
            }
            const range = document.createRange();
            range.selectNodeContents(held);
            const lines = new Set([...range.getClientRects()].filter((box) => box.width > 0.5)
              .map((box) => Math.round(box.top / 4))).size;
            pen.font = style.font;
            const lack = pen.measureText(held.textContent).width - room(around);
            if (lines > 1 && lack < -1) {
              told.push(`parted with ${-Math.round(lack)} px left: “${held.textContent}” of `
                + `“${around.textContent.trim().slice(0, 50)}”`);
            }
          }
          return told;
        }"""
    )
    return found


def off_centre(page: Page) -> list[str]:
    """Buttons whose words stand to one side of them where they take two lines."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("main :is(button, .button)")]
          .filter((e) => e.clientHeight && getComputedStyle(e).textAlign !== "center")
          .map((e) => e.outerHTML.slice(0, 120))"""
    )
    return found


def covering(page: Page) -> list[str]:
    """What stays in sight over the page and takes more than a quarter of the screen."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("body *")]
          .filter((e) => getComputedStyle(e).position === "fixed"
            && e.getBoundingClientRect().height > innerHeight / 4)
          .map((e) => e.outerHTML.slice(0, 120))"""
    )
    return found


def crowded(page: Page) -> list[str]:
    """Labels that stand nearer to what is above them than to the box they name."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("main form label[for]")].map((label) => {
          const seen = (e) => e.checkVisibility({ visibilityProperty: true });
          const own = label.getBoundingClientRect();
          const named = document.getElementById(label.htmlFor)?.getBoundingClientRect();
          if (!seen(label) || !named?.height || named.top < own.bottom - 2) return "";
          const others = label.closest("form").querySelectorAll("input, select, .hint, .tick");
          const above = [...others].filter(seen).map((e) => e.getBoundingClientRect())
            .filter((e) => e.height > 1 && e.bottom <= own.top + 1
              && e.left < own.right && e.right > own.left)
            .map((e) => own.top - e.bottom);
          const near = Math.min(...above), below = named.top - own.bottom;
          return near < below + 1 ? `${near.toFixed(0)} px above, ${below.toFixed(0)} below: `
            + label.textContent.trim() : "";
        }).filter(Boolean)"""
    )
    return found


def thin_in_sunlight(page: Page) -> list[str]:
    """Words that stay in thin letters on a page turned on for sunlight."""
    found: list[str] = page.evaluate(
        """() => {
          const found = new Set();
          const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
          const elsewhere = "svg, select, code, script, style, template, :disabled";
          for (let node = walk.nextNode(); node; node = walk.nextNode()) {
            const e = node.parentElement.closest(":not(n-b)");
            if (!node.textContent.trim() || e.closest(elsewhere)
                || !e.checkVisibility({ visibilityProperty: true })) continue;
            if (Number(getComputedStyle(e).fontWeight) < 600) found.add(e.outerHTML.slice(0, 90));
          }
          return [...found];
        }"""
    )
    return found


def contrast(page: Page, one: str, other: str) -> float:
    """Contrast of two colours by WCAG 2.2, "contrast ratio"; each as #rrggbb."""
    both = [[int(text[at : at + 2], 16) for at in (1, 3, 5)] for text in (one, other)]
    found: float = page.evaluate(
        f"([one, other]) => {{ {_RATIO} return ratio(one, other); }}", both
    )
    return found


def faint_words(page: Page) -> list[str]:
    """Words and examples that can hardly be told from what they stand on (WCAG 2.2, 1.4.3)."""
    found: list[str] = page.evaluate(f"() => {{ {_RATIO} {_FAINT} }}")
    return found


_RATIO = """
const colour = (text) => {
  const parts = text.match(/[\\d.]+/g).map(Number);
  return { rgb: parts.slice(0, 3), alpha: parts.length > 3 ? parts[3] : 1 };
};
const light = (rgb) => {
  const [r, g, b] = rgb.map((v) => v / 255)
    .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const ratio = (one, other) => {
  const [high, low] = [light(one), light(other)].sort((a, b) => b - a);
  return (high + 0.05) / (low + 0.05);
};
"""
_FAINT = """
const over = ({ rgb, alpha }, under) => rgb.map((v, i) => v * alpha + under[i] * (1 - alpha));
const SKIPPED = "svg, script, style, template, :disabled, option";
const WHITE = [255, 255, 255], grounds = new Map();
const layered = (e) => {
  const own = colour(getComputedStyle(e).backgroundColor);
  if (!own.alpha) return ground(e.parentElement);
  return over(own, own.alpha === 1 ? WHITE : ground(e.parentElement));
};
const ground = (e) => {
  if (!e) return WHITE;
  if (!grounds.has(e)) grounds.set(e, layered(e));
  return grounds.get(e);
};
const found = new Set();
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
for (const e of document.querySelectorAll(":placeholder-shown")) {
  if (!e.placeholder || !e.checkVisibility({ visibilityProperty: true })) continue;
  const under = ground(e), style = getComputedStyle(e, "::placeholder");
  const got = ratio(over(colour(style.color), under), under);
  if (got < 4.5) found.add(`${got.toFixed(2)} of an example: ${e.outerHTML.slice(0, 120)}`);
}
for (let node = walk.nextNode(); node; node = walk.nextNode()) {
  const e = node.parentElement.closest(":not(n-b)");
  if (!node.textContent.trim() || e.closest(SKIPPED)) continue;
  if (!e.checkVisibility({ visibilityProperty: true })) continue;
  const style = getComputedStyle(e), under = ground(e);
  const got = ratio(over(colour(style.color), under), under);
  const size = parseFloat(style.fontSize), bold = Number(style.fontWeight) >= 700;
  const least = size >= 24 || (bold && size >= 18.66) ? 3 : 4.5;
  if (got < least) found.add(`${got.toFixed(2)} of ${least}: ${e.outerHTML.slice(0, 120)}`);
}
return [...found];
"""
