// <music-strip>: an engraved line. The picture lives in a tree of its own, so that the ids of a hundred
// pictures do not meet.

const sheet = new CSSStyleSheet();
sheet.replaceSync(`
  :host { display: block; color: var(--ink); }
  svg { display: block; width: 100%; height: 100%; max-width: var(--strip-width, none); }
  .role.entry { fill: var(--entry); }
  .role.arpeggio { fill: var(--arpeggio); }
  .role.passing { fill: var(--passing); }
  .role.handoff { fill: var(--handoff); }
  .role.ending { fill: var(--ending); }
  .role.target { stroke: var(--target); }
  .role.approach, .figure { stroke: var(--approach); }
  .shape.entry { fill: var(--entry); }
  .shape.arpeggio { fill: var(--arpeggio); }
  .shape.passing { fill: var(--passing); }
  .shape.handoff { fill: var(--handoff); }
  .shape.ending { fill: var(--ending); }
  .shape.target { stroke: var(--target); }
  .shape.approach { stroke: var(--approach); }
  .shape.hollow, .order.on { fill: var(--sheet); }
  .order { fill: var(--ink); }
  /* The frame around a note that is left out: as clear in the dark. */
  rect[stroke-dasharray] { stroke: var(--edge); stroke-width: 20; }
  .lit { color: var(--lit); fill: var(--lit); stroke: var(--lit); }
  .lit * { fill: var(--lit); stroke: var(--lit); }
  .lit .order { fill: var(--sheet); stroke: none; }
  .wrong, .wrong * { fill: var(--wrong); stroke: var(--wrong); }
  .new, .new * { fill: var(--new); stroke: var(--new); }
  .ring { fill: none; stroke-width: 22; }
  .ring.wrong { stroke: var(--wrong); }
  .ring.new { stroke: var(--new); stroke-dasharray: 60 40; }
  @media print { .lit, .lit * { fill: currentColor; stroke: currentColor; } }
`);

class MusicStrip extends HTMLElement {
  constructor() {
    super();
    const root = this.attachShadow({ mode: "open" });
    root.adoptedStyleSheets = [sheet];
    // What stands inside is shown until the picture is there.
    root.append(document.createElement("slot"));
  }

  /** Show a picture; ``spoken`` is what a screen reader says in its place. */
  show(text, spoken) {
    const read = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    if (read.localName !== "svg") throw new Error("the picture cannot be read.");
    const fretted = read.querySelector(".necks > title")?.textContent;
    // Only what a picture needs: nothing that runs, nothing that loads.
    read.querySelectorAll("script, foreignObject, style, image, a, title").forEach((each) => each.remove());
    const width = parseFloat(read.getAttribute("width")) || 0;
    read.removeAttribute("width");
    read.removeAttribute("height");
    read.setAttribute("preserveAspectRatio", "xMinYMin meet");
    read.setAttribute("role", "img");
    read.setAttribute("aria-label", fretted ? `${spoken}. ${fretted}` : spoken);
    this.shadowRoot.replaceChildren(document.importNode(read, true));
    this.dataset.ready = "";
    this.style.setProperty("--strip-width", width ? `${Math.round(width * 5.2)}px` : "none");
  }

  /** The parts of a note on staff and tablature, ties included.
   * @returns {any[]}
   */
  parts(index) {
    const found = [];
    for (const kind of ["n", "t", "f"])
      for (const tied of ["", "b", "c", "d"]) {
        const part = this.shadowRoot.getElementById(`${kind}1-${index}${tied}`);
        if (part) found.push(part);
      }
    return found;
  }

  /** Light one note, or none. */
  light(index) {
    this.shadowRoot.querySelectorAll(".lit").forEach((each) => each.classList.remove("lit"));
    if (index !== null) this.parts(index).forEach((each) => each.classList.add("lit"));
  }

  /** Mark notes: coloured, and ringed so that colour is not needed to see it. */
  mark(indices, kind) {
    for (const index of indices)
      for (const part of this.parts(index)) {
        part.classList.add(kind);
        const box = part.getBBox();
        const ring = document.createElementNS("http://www.w3.org/2000/svg", "rect");
        const room = 45;
        for (const [name, value] of Object.entries({
          x: box.x - room,
          y: box.y - room,
          width: box.width + 2 * room,
          height: box.height + 2 * room,
          rx: 60,
          class: `ring ${kind}`,
        }))
          ring.setAttribute(name, value);
        part.append(ring);
      }
  }
}
customElements.define("music-strip", MusicStrip);

/** How wide to ask for pictures, in millimetres, in a place so many CSS pixels wide. */
export function pictureWidth(pixels, bars) {
  const most = 24 + 46 * Math.max(2, Math.min(4, bars));
  return Math.round(Math.max(66, Math.min(most, pixels / 3.7)));
}
