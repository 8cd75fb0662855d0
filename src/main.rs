//! tmp
use ovolo::diagnostics::*;
fn main(){
 let p=std::env::args().nth(1).unwrap();
 let t=std::fs::read_to_string(&p).unwrap();
 let mut s=Sources::default(); let f=s.add(p,t.clone());
 let (sheet,d)=ovolo::syntax::parse_sheet(f,&t);
 println!("{}",render::render_all(&d,&s,render::Style{colour:false},50));
 if std::env::args().nth(2).is_some(){println!("{:#?}",sheet);}
 println!("{} statements", sheet.statements.len());
}
