// What the map asks the server for.

/** A JSON document. Throws a sentence for people where it does not come. */
export async function fetchedDocument<T>(address: string): Promise<T> {
  const answer = await fetch(address, { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(`The map's data did not come (${answer.status}). Load the page again.`);
  return (await answer.json()) as T;
}

/** The server's HTML about a subject, made by the same template as the full page. */
export async function fetchedFragment(address: string, subject: string): Promise<string> {
  const wanted = new URL(address, location.href);
  wanted.searchParams.set("subject", subject);
  const answer = await fetch(wanted, { headers: { "HX-Request": "true", "HX-Request-Type": "partial" } });
  return answer.ok ? await answer.text() : "";
}
