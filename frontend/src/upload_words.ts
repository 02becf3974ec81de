// Words about a file on its way to the server.

const MEGA = 1_048_576;

/** What the page says while a file goes out. */
export function sentWords(sent: number, whole: number): string {
  const [done, all] = [sent, whole].map((bytes) => (bytes / MEGA).toFixed(1));
  return sent >= whole ? `All ${all} MB sent; the server reads it.` : `${done} of ${all} MB sent`;
}
