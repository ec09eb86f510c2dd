// Package pages are the web pages: the same records and the same rules as the API's, for people.
//
// A page is a line in the table of its file (see [Page]), a handler, and a template in templates/. The handler reads what it needs in one
// transaction and shows a template, or does what a form asks, by the function that the API calls too, and redirects. What the page says is
// under "page." in the catalogues of package text. Nothing of a page needs a script; scripts only make it quicker.
package pages
