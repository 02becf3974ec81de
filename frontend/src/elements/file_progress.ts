// How much of a large file has been sent. Without script the form is sent as any other.

import { sentWords } from "../upload_words.ts";

/** The sentence of an answer's page, or one of our own where it has none. */
export function refusalOf(text: string, status: number): string {
  const told = new DOMParser().parseFromString(text, "text/html").querySelector("main .message");
  const plain = text.includes("<") ? "" : text.trim();
  return told?.textContent?.trim() || plain || `The server refused it (${status}). Try again.`;
}

/** Sends the form inside it and shows how far it is; an answer's page is gone to. */
export class FileProgress extends HTMLElement {
  connectedCallback(): void {
    this.addEventListener("submit", this.submitted);
  }

  disconnectedCallback(): void {
    this.removeEventListener("submit", this.submitted);
  }

  private submitted = (event: Event): void => {
    event.preventDefault();
    this.send();
  };

  private get form(): HTMLFormElement {
    return this.querySelector("form")!;
  }

  private say(words: string, share: number | null): void {
    const part = this.querySelector<HTMLElement>("[data-part=progress]")!;
    part.hidden = false;
    part.querySelector("span")!.textContent = words;
    const bar = part.querySelector("progress")!;
    bar.hidden = share === null;
    bar.value = (share ?? 0) * 100;
  }

  private send(): void {
    const button = this.form.querySelector<HTMLButtonElement>("button")!;
    const words = button.textContent;
    const refused = (why: string): void => {
      this.say(why, null);
      button.disabled = false;
      button.removeAttribute("aria-busy");
      button.textContent = words;
    };
    const request = new XMLHttpRequest();
    request.upload.onprogress = (step) =>
      this.say(sentWords(step.loaded, step.total), step.loaded / Math.max(step.total, 1));
    request.onload = () =>
      request.status < 400
        ? location.assign(request.responseURL)
        : refused(refusalOf(request.responseText, request.status));
    request.onerror = () =>
      refused("The way to the server broke off, or it refused the size (200 MB at most). Nothing was kept.");
    request.open("POST", this.form.action);
    request.send(new FormData(this.form));
  }
}
