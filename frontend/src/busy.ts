// A form whose work takes seconds says so, and cannot be sent twice.

/** Disables the button of a form that has `data-busy`, and shows those words on it. */
export function busyWhileSending(event: Event): void {
  const form = event.target as HTMLFormElement;
  const words = form.dataset["busy"];
  const button = form.querySelector<HTMLButtonElement>("button:not([name])");
  if (words === undefined || !button) return;
  button.textContent = words;
  button.setAttribute("aria-busy", "true");
  button.disabled = true;
}
