// Addresses hold the state of a page.

/** The address with one query parameter set. */
export function withParameter(address: string, name: string, value: string): string {
  const changed = new URL(address);
  changed.searchParams.set(name, value);
  return changed.href;
}
