-- Labels: words of a site's language, what is on a label beside the ledger, and every print with its reason.
select 1;
