// Page elements from script, without markup in strings.

type Child = Node | string | null;
type Attributes = Readonly<Record<string, string | boolean | ((event: Event) => void)>>;

/** An element: true sets an attribute, false leaves it out, a function listens to the event of that name. */
export function made<K extends keyof HTMLElementTagNameMap>(tag: K, attributes: Attributes = {}, ...children: Child[]): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") element.addEventListener(name, value);
    else if (value !== false) element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.filter((child) => child !== null));
  return element;
}
