// SPDX-License-Identifier: GPL-3.0-or-later
const data = JSON.parse((document.getElementById("data") as HTMLElement).textContent as string);
(document.getElementById("page") as HTMLElement).textContent = data.question;
